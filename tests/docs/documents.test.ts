/** What the documents tell a reader to run, open or look up is there. */
import { existsSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { TOP, documentPaths, isThere, linkTargets, namedPaths, npmScripts, read } from './markdown.ts';

const { scripts } = JSON.parse(read('package.json')) as { scripts: Record<string, string> };
const documents = documentPaths();

describe('what looks through the documents', () => {
  it('finds a link, a path and a script that are not there', () => {
    const text =
      'See [a](docs/a.md#b), ![c](images/c.png), [d](https://d.example) and `[e](e.md)`; `server/src/{main,f}.ts`, `tests/g*.ts`; ' +
      'run `npm run --silent h:i -- j`, `npm test`, `npm rebuild`.';
    expect(linkTargets(text)).toEqual(['docs/a.md', 'images/c.png']);
    expect(namedPaths(text)).toEqual(['server/src/{main,f}.ts', 'tests/g*.ts']);
    expect(npmScripts(text)).toEqual(['h:i', 'test']);
    expect(['server/src/{main,f}.ts', 'tests/g*.ts', 'nothing'].map(isThere)).toEqual([false, false, false]);
    expect(['server/src/{main,app}.ts', 'tests/docs/doc*.ts', 'docs'].map(isThere)).toEqual([true, true, true]);
  });
});

describe('README.md', () => {
  it('has a row for the commands that people need, each a script of package.json', () => {
    const rows = read('README.md')
      .split('\n')
      .filter((line) => line.startsWith('| `npm '));
    const named = rows.flatMap((row) => npmScripts(row.split('|')[1] ?? ''));
    expect(named).toEqual(
      expect.arrayContaining(['start', 'analyse', 'replay', 'backup', 'restore', 'check', 'bench', 'bench:accuracy']),
    );
    expect(named.filter((name) => scripts[name] === undefined)).toEqual([]);
  });
});

describe.each(documents)('%s', (file) => {
  const text = read(file);

  it('links to files that are there', () => {
    const from = path.join(TOP, path.dirname(file));
    expect(linkTargets(text).filter((target) => !existsSync(path.resolve(from, target)))).toEqual([]);
  });

  it('names files that are there', () => {
    expect(namedPaths(text).filter((named) => !isThere(named))).toEqual([]);
  });

  it('tells to run scripts that are there', () => {
    expect(npmScripts(text).filter((name) => scripts[name] === undefined)).toEqual([]);
  });
});
