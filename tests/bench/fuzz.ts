/** Millions of fuzzed cases, each run with another seed: `node --import tsx tests/bench/fuzz.ts [MILLIONS] [SEED]`. */
import { FUZZES } from '../faults/fuzz.ts';

const MILLION = 1e6;
/** fast-check keeps what it needs to shrink: smaller portions keep memory flat. */
const PORTION = 20_000;

const millions = Number(process.argv[2] ?? 1);
const firstSeed = Number(process.argv[3] ?? Date.now() % 1e9);
if (!(millions > 0) || !Number.isInteger(firstSeed)) {
  console.error('Give the number of millions and a whole number as seed: fuzz.ts 3 42');
  process.exit(1);
}

console.log(`Fuzzing: ${millions} million cases of each property, seeds from ${firstSeed}\n`);
console.log('property                                       cases   seconds   breaches');
for (const { name, run } of FUZZES) {
  const began = performance.now();
  let cases = 0;
  for (let seed = firstSeed; cases < millions * MILLION; seed++) {
    // A breach throws with the smallest case and its seed, and ends the run.
    run(PORTION, seed);
    cases += PORTION;
  }
  const seconds = (performance.now() - began) / 1000;
  console.log(`${name.padEnd(42)} ${String(cases).padStart(9)} ${seconds.toFixed(0).padStart(9)} ${'0'.padStart(10)}`);
}
