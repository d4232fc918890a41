/** The project's own files as text: what git tracks, and what is new and not ignored. */
import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import path from 'node:path';

export interface SourceFile {
  /** From the top of the repository, with forward slashes. */
  path: string;
  text: string;
}

const TOP = path.resolve(import.meta.dirname, '../..');
const BINARY = /\.(png|jpe?g|gif|ico|woff2?|bin|gz)$/;
const CODE = /\.(ts|js|mjs|svelte|c|h)$/;

export function readSourceFiles(): SourceFile[] {
  const listed = execFileSync('git', ['ls-files', '-z', '--cached', '--others', '--exclude-standard'], {
    cwd: TOP,
    encoding: 'utf8',
    maxBuffer: 64 * 2 ** 20,
  });
  const files: SourceFile[] = [];
  for (const name of new Set(listed.split('\0'))) {
    if (name === '' || BINARY.test(name)) continue;
    const text = readIfThere(path.join(TOP, name));
    if (text !== null) files.push({ path: name, text });
  }
  return files;
}

/** Null for a tracked file that has been deleted and for a link to a folder. */
function readIfThere(fullPath: string): string | null {
  try {
    return readFileSync(fullPath, 'utf8');
  } catch {
    return null;
  }
}

export function isCode(file: SourceFile): boolean {
  return CODE.test(file.path);
}

/** Everything that the file imports, statically or not, as written. */
export function importsOf(file: SourceFile): string[] {
  const found = withoutComments(file.text).matchAll(/(?:\bfrom|\bimport|\brequire)\s*\(?\s*(['"])([^'"\n]+)\1/g);
  return [...found].map((match) => match[2]!);
}

/** A relative import as a path from the top of the repository; any other as it is. */
export function targetOf(file: SourceFile, specifier: string): string {
  return specifier.startsWith('.') ? path.posix.join(path.posix.dirname(file.path), specifier) : specifier;
}

/** Comments may name what code must not do. Strings are skipped over, so that an address in one is no comment. */
export function withoutComments(text: string): string {
  return text.replace(
    /("(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*'|`(?:\\.|[^`\\])*`)|\/\*[\s\S]*?\*\/|<!--[\s\S]*?-->|\/\/[^\n]*/g,
    (_, string: string | undefined) => string ?? ' ',
  );
}
