import { expect, test } from 'vitest';
import { LOOK_BACK_S, startPipeline, stepPipeline } from '../../server/src/pipeline.ts';

const RATE_HZ = 200;
const SECONDS = 90;

test('the samples kept for a lead-in reach back a minute and take the same memory from the first to the last', () => {
  const state = startPipeline({ rateHz: { pelvis: RATE_HZ, sternum: RATE_HZ } });
  const { lookBack } = state.sensors.pelvis;
  const room = lookBack.flags.length;
  for (let i = 0; i < SECONDS * RATE_HZ; i += 1) {
    const still = { tS: i / RATE_HZ, ax: 0, ay: 0, az: 9.81, gx: 0, gy: 0, gz: 0 };
    stepPipeline(state, { kind: 'samples', place: 'pelvis', samples: [still] });
  }
  expect(lookBack.flags.length).toBe(room);
  const [oldestS = NaN] = lookBack.values;
  // Poses are kept at 50 Hz, so the oldest may be one of them younger than the minute.
  expect(SECONDS - oldestS).toBeGreaterThanOrEqual(LOOK_BACK_S);
  expect(SECONDS - oldestS).toBeLessThan(LOOK_BACK_S * 1.2);
});
