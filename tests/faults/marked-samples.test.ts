/** The check that the other tests here rely on must itself notice what is lost or changed. */
import { expect, test } from 'vitest';
import { ACCEL_SCALE_MIN, GYRO_SCALE_MIN, NANO, crc32c, payloadOf, quantiseInto } from '@ambipede/firmware-protocol';
import { makeRawBatch } from '../support/raw-batch.ts';
import { checkStored, markedSource } from './marked-samples.ts';

const BATCHES = 5;
const COUNT = 10;
const scales = { accelScale: ACCEL_SCALE_MIN * NANO, gyroScale: GYRO_SCALE_MIN * NANO };

const counts = new Int16Array(BATCHES * COUNT * 6);
[...markedSource(BATCHES * COUNT)].forEach((reading, n) => quantiseInto(counts, n * 6, reading, scales));
const stored = Array.from({ length: BATCHES }, (_, i) => {
  const payload = payloadOf(counts.slice(i * COUNT * 6, (i + 1) * COUNT * 6));
  return makeRawBatch({ bootId: 1, firstSequence: i * COUNT, count: COUNT, payload, crc32c: crc32c(payload) });
});
const measured = BATCHES * COUNT;
const state = (lost: { from: number; to: number }[] = []) => ({
  connected: false,
  sampled: measured,
  acknowledged: measured,
  dropped: 0,
  connections: 1,
  problem: null,
  boots: [{ bootId: 1, sampled: measured, lost }],
});

test('all that was measured is found as it was', () => {
  expect(checkStored(state(), stored)).toEqual({ acknowledged: measured, missing: 0, wrong: 0 });
});

test('a batch that is missing counts, unless the device reported it', () => {
  const rest = stored.filter((_, i) => i !== 2);
  expect(checkStored(state(), rest).missing).toBe(COUNT);
  expect(checkStored(state([{ from: 20, to: 30 }]), rest).missing).toBe(0);
  expect(checkStored(state([{ from: 21, to: 30 }]), rest).missing).toBe(1);
});

test('a changed byte, a repeated batch and samples that nobody measured are wrong', () => {
  const payload = Uint8Array.from(stored[1]!.payload);
  payload[8] = (payload[8] ?? 0) ^ 1;
  expect(checkStored(state(), stored.with(1, { ...stored[1]!, payload, crc32c: crc32c(payload) })).wrong).toBe(1);
  expect(checkStored(state(), [...stored, stored[0]!]).wrong).toBe(COUNT);
  expect(checkStored({ ...state(), boots: [{ bootId: 1, sampled: measured - 1, lost: [] }] }, stored).wrong).toBe(1);
});
