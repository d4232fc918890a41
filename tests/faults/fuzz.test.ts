/** Thousands of cases a run, the same ones each time; `tests/bench/fuzz.ts` runs millions. */
import { describe, expect, test } from 'vitest';
import { PROTOCOL_ERRORS, decode } from '@ambipede/firmware-protocol';
import { VALID_FRAMES } from './fuzz-frames.ts';
import { FUZZES } from './fuzz.ts';

const CASES = 3000;

describe('never a crash and never a silent drop', () => {
  test.each(FUZZES)('$name', ({ run }) => run(CASES, 4));

  test('a frame cut after any of its bytes is refused', () => {
    for (const frame of VALID_FRAMES) {
      for (let length = 0; length < frame.length; length++) {
        const decoded = decode(frame.subarray(0, length));
        expect(decoded.ok).toBe(false);
        if (!decoded.ok) expect(PROTOCOL_ERRORS[decoded.error.name].connection).toBe('closed');
      }
    }
  });
});
