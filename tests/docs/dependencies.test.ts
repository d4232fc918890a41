/** docs/decisions/0007-dependencies.md against the package.json files. */
import { describe, expect, it } from 'vitest';
import { read } from './markdown.ts';

interface Package {
  dependencies?: Record<string, string>;
  devDependencies?: Record<string, string>;
}

const WORKSPACES = ['shared', 'firmware-protocol', 'server', 'web'];
const OWN = '@ambipede/';
const text = read('docs/decisions/0007-dependencies.md');

function packageOf(folder: string): Package {
  return JSON.parse(read(`${folder}/package.json`)) as Package;
}

/** Packages in the first column of the table under a heading, and the cell beside them. */
function table(heading: string): Map<string, string> {
  const section = text.split(/^## /m).find((part) => part.startsWith(heading)) ?? '';
  const rows = section.split('\n').filter((line) => line.startsWith('| `'));
  return new Map(
    rows.flatMap((row) => {
      const [, first = '', second = ''] = row.split('|');
      return [...first.matchAll(/`([^`]+)`/g)].map(([, name = '']) => [name, second.trim()] as const);
    }),
  );
}

const sorted = (names: Iterable<string>): string[] => [...names].sort();

describe('the dependencies', () => {
  it('at run time are those of the workspaces, each where it is used', () => {
    const used = new Map<string, string[]>();
    for (const workspace of WORKSPACES) {
      const names = Object.keys(packageOf(workspace).dependencies ?? {}).filter((name) => !name.startsWith(OWN));
      for (const name of names) used.set(name, [...(used.get(name) ?? []), workspace]);
    }
    const told = table('At run time');
    expect(sorted(told.keys())).toEqual(sorted(used.keys()));
    for (const [name, where] of told)
      expect([name, sorted(where.split(', '))]).toEqual([name, sorted(used.get(name)!)]);
  });

  it('for building and testing are those of the top level, and no workspace has others', () => {
    const { dependencies, devDependencies } = packageOf('.');
    expect(dependencies).toBeUndefined();
    expect(sorted(table('For building and testing').keys())).toEqual(sorted(Object.keys(devDependencies ?? {})));
    for (const workspace of WORKSPACES) expect(packageOf(workspace).devDependencies).toBeUndefined();
  });

  it('are pinned to one version each', () => {
    const loose = ['.', ...WORKSPACES].flatMap((folder) => {
      const { dependencies, devDependencies } = packageOf(folder);
      return Object.entries({ ...dependencies, ...devDependencies }).filter(
        ([, version]) => !/^\d+\.\d+\.\d+(-[\w.]+)?$/.test(version),
      );
    });
    expect(loose).toEqual([]);
  });
});
