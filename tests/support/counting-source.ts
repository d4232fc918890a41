import type { Reading } from '@ambipede/firmware-protocol/virtual-sensor';

/** Turn rates are told apart in steps of this, ten times what a count of the protocol resolves. */
const STEP_RAD_PER_S = 0.01;
const NUMBERS = 1000;

/** Readings that carry their number (modulo 1000) in the turn rate about z; otherwise at rest. */
export function* countingSource(): Generator<Reading> {
  for (let n = 0; ; n++) yield { ax: 0, ay: 9.81, az: 0, gx: 0, gy: 0, gz: (n % NUMBERS) * STEP_RAD_PER_S };
}

export function numberOf(gzRadPerS: number): number {
  return Math.round(gzRadPerS / STEP_RAD_PER_S);
}

/** Whether the n-th sample carries its own number. */
export function carries(n: number, number: number): boolean {
  return number === n % NUMBERS;
}
