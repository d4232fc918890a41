import { execFileSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';

const PROGRAM = fileURLToPath(new URL('../support/heap-limits.ts', import.meta.url));
const MIB = 2 ** 20;

function limitsWith(flags: string[]): { own: number; ofWorker: number } {
  return JSON.parse(execFileSync(process.execPath, [...flags, '--import', 'tsx', PROGRAM], { encoding: 'utf8' })) as {
    own: number;
    ofWorker: number;
  };
}

test('a limit of the heap holds for the thread it was given to, and worker threads keep that of Node', () => {
  const without = limitsWith([]);
  const limited = limitsWith(['--max-old-space-size=256']);
  expect(limited.own).toBeLessThan(512 * MIB);
  expect(limited.ofWorker).toBe(without.ofWorker);
  expect(limited.ofWorker).toBeGreaterThan(limited.own);
});
