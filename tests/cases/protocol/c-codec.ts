/** Compiles the C encoder and decoder with its driver, and talks to it. */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const STRICT = ['-std=c99', '-Wall', '-Wextra', '-Wpedantic', '-Werror', '-Wconversion', '-Wsign-conversion'];
const SANITIZERS = ['-g', '-O1', '-fsanitize=address,undefined', '-fno-sanitize-recover=all'];
const path = (relative: string): string => fileURLToPath(new URL(relative, import.meta.url));
const SOURCE = path('../../../firmware-protocol/c/ambipede_protocol.c');
const INCLUDE = path('../../../firmware-protocol/c');
const DRIVER = path('./c-driver.c');

/** The first C compiler of this machine; null where there is none. */
export function findCompiler(): string | null {
  return ['gcc', 'cc', 'clang'].find((name) => spawnSync(name, ['--version']).status === 0) ?? null;
}

/** Whether this compiler can build with the sanitizers: their libraries are a package of their own in places. */
export function hasSanitizers(compiler: string): boolean {
  const folder = mkdtempSync(join(tmpdir(), 'c-sanitizers-'));
  try {
    writeFileSync(join(folder, 'empty.c'), 'int main(void) { return 0; }\n');
    const built = spawnSync(compiler, [...SANITIZERS, join(folder, 'empty.c'), '-o', join(folder, 'empty')]);
    return built.status === 0 && spawnSync(join(folder, 'empty')).status === 0;
  } finally {
    rmSync(folder, { recursive: true });
  }
}

/** Throws with what the compiler says. `folder`: where the program goes. */
export function compileDriver(compiler: string, folder: string, sanitized: boolean): string {
  const program = join(folder, sanitized ? 'codec-sanitized' : 'codec');
  const flags = [...STRICT, ...(sanitized ? SANITIZERS : ['-O2']), '-I', INCLUDE];
  const built = spawnSync(compiler, [...flags, SOURCE, DRIVER, '-o', program], { encoding: 'utf8' });
  if (built.status !== 0) throw new Error(`${compiler} refused the sources:\n${built.stderr}`);
  return program;
}

/** Answers of the program, one for each command. Throws when it failed, or a sanitizer reported. */
export function ask(program: string, commands: readonly string[]): string[] {
  const input = commands.map((command) => `${command}\n`).join('');
  const ran = spawnSync(program, [], { input, encoding: 'utf8', maxBuffer: 2 ** 26 });
  if (ran.status !== 0) throw new Error(`The program ended with ${ran.status ?? ran.signal}:\n${ran.stderr}`);
  return ran.stdout.trimEnd().split('\n');
}
