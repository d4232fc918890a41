/** Readings whose every byte tells which one it is, and the check of what was stored against what was measured. */
import {
  ACCEL_SCALE_MIN,
  GYRO_SCALE_MIN,
  NANO,
  crc32c,
  payloadOf,
  sampleBytes,
  CHANNELS_ACCEL_GYRO,
} from '@ambipede/firmware-protocol';
import type { Reading, VirtualSensorState } from '@ambipede/firmware-protocol/virtual-sensor';
import type { RawBatch } from '../../server/src/ingest/raw-log.ts';

const ACCEL = ACCEL_SCALE_MIN * NANO;
const GYRO = GYRO_SCALE_MIN * NANO;
/** The number of a reading stands in its first two values, to this base. */
const BASE = 30_000;
const BYTES = sampleBytes(CHANNELS_ACCEL_GYRO);

/** Six counts of the n-th reading: its number, then values that are scattered by it (Knuth's multiplicative hash). */
function countsOf(n: number): Int16Array {
  const scattered = [1, 2, 3, 4].map((k) => (Math.imul(n * 4 + k, 2_654_435_761) >>> 16) - 32_768);
  return Int16Array.of(n % BASE, Math.floor(n / BASE), ...scattered);
}

export function* markedSource(readings = Infinity): Generator<Reading> {
  for (let n = 0; n < readings; n++) {
    const [ax = 0, ay = 0, az = 0, gx = 0, gy = 0, gz = 0] = countsOf(n);
    yield { ax: ax * ACCEL, ay: ay * ACCEL, az: az * ACCEL, gx: gx * GYRO, gy: gy * GYRO, gz: gz * GYRO };
  }
}

type StoredBatch = Pick<RawBatch, 'bootId' | 'firstSequence' | 'count' | 'payload' | 'crc32c'>;

export interface StoreCheck {
  /** Samples that the device was told to be safe. */
  acknowledged: number;
  /** Of those that the device has not reported as lost: missing in the store. */
  missing: number;
  /** Stored, but with other bytes than were measured, or twice, or with a wrong checksum. */
  wrong: number;
}

/**
 * Compares everything that a device measured with all batches stored of it. A sample that was acknowledged has left the
 * device: if it is missing here it is lost for good.
 */
export function checkStored(state: VirtualSensorState, batches: readonly StoredBatch[]): StoreCheck {
  const check: StoreCheck = { acknowledged: state.acknowledged, missing: 0, wrong: 0 };
  for (const boot of state.boots) {
    const stored = new Map<number, Uint8Array>();
    for (const batch of batches.filter(({ bootId }) => bootId === boot.bootId)) {
      if (crc32c(batch.payload) !== batch.crc32c) check.wrong += 1;
      for (let i = 0; i < batch.count; i++) {
        const sequence = batch.firstSequence + i;
        if (stored.has(sequence)) check.wrong += 1;
        stored.set(sequence, batch.payload.subarray(i * BYTES, (i + 1) * BYTES));
      }
    }
    let numberMin = 0;
    for (let sequence = 0; sequence < boot.sampled; sequence++) {
      const bytes = stored.get(sequence);
      if (!bytes) {
        if (!boot.lost.some(({ from, to }) => sequence >= from && sequence < to)) check.missing += 1;
        continue;
      }
      const number = numberIn(bytes);
      // A device that was off for a while skips readings; it never goes back.
      if (number < numberMin || !isSame(bytes, payloadOf(countsOf(number)))) check.wrong += 1;
      numberMin = number + 1;
    }
    if ([...stored.keys()].some((sequence) => sequence >= boot.sampled)) check.wrong += 1;
  }
  return check;
}

export function numberIn(bytes: Uint8Array): number {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  return view.getInt16(0, true) + view.getInt16(2, true) * BASE;
}

function isSame(a: Uint8Array, b: Uint8Array): boolean {
  return a.length === b.length && a.every((byte, i) => byte === b[i]);
}
