/** The project's documents as text, and what tests look for in them. */
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import path from 'node:path';

export const TOP = path.resolve(import.meta.dirname, '../..');

/** Paths from the top of the repository. */
export function documentPaths(): string[] {
  const inDocs = readdirSync(path.join(TOP, 'docs'), { recursive: true, encoding: 'utf8' });
  return [
    'README.md',
    'DEVELOPERS.md',
    'firmware-protocol/SPEC.md',
    ...inDocs.filter((name) => name.endsWith('.md')).map((name) => `docs/${name.replaceAll(path.sep, '/')}`),
  ];
}

export function read(file: string): string {
  return readFileSync(path.join(TOP, file), 'utf8');
}

/** A path as the documents write it: from the top, perhaps `a/{b,c}.ts` or `a/b*.ts`. True when all of it is there. */
export function isThere(written: string): boolean {
  return expand(written).every((each) => {
    if (!each.includes('*')) return existsSync(path.join(TOP, each));
    const folder = path.join(TOP, path.dirname(each));
    const [before = '', after = ''] = path.basename(each).split('*');
    return existsSync(folder) && readdirSync(folder).some((name) => name.startsWith(before) && name.endsWith(after));
  });
}

function expand(written: string): string[] {
  const braces = /^([^{]*)\{([^}]*)\}(.*)$/.exec(written);
  if (!braces) return [written];
  const [, before = '', choices = '', after = ''] = braces;
  return choices.split(',').flatMap((choice) => expand(before + choice.trim() + after));
}

/** Targets of links and images within the repository, without their `#part`. */
export function linkTargets(markdown: string): string[] {
  return [...withoutCode(markdown).matchAll(/\]\(([^)\s]+)\)/g)]
    .map(([, target = '']) => target)
    .filter((target) => !/^[a-z]+:/.test(target) && !target.startsWith('#'))
    .map((target) => target.replace(/#.*/, ''));
}

/** Paths in backticks that begin with a folder of the top level. */
export function namedPaths(markdown: string): string[] {
  return [...markdown.matchAll(/`((?:server|web|shared|firmware-protocol|tests|docs)\/[^`\s]*)`/g)].map(
    ([, named = '']) => named,
  );
}

/** Names of the npm scripts that a text tells the reader to run. */
export function npmScripts(markdown: string): string[] {
  const run = [...markdown.matchAll(/\bnpm run (?:-[-\w]+ )*([\w:]+)/g)].map(([, name = '']) => name);
  const short = [...markdown.matchAll(/\bnpm (start|test)\b/g)].map(([, name = '']) => name);
  return [...run, ...short];
}

function withoutCode(markdown: string): string {
  return markdown.replace(/```[\s\S]*?```/g, '').replace(/`[^`]*`/g, '');
}
