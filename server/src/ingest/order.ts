/**
 * The order stage: batches of one stream in any order, repeated or overlapping, become the stream in sequence order.
 * A missing sample is waited for while ORDER_WINDOW_SAMPLES have not gone by and the device still holds it; then it is a gap.
 */
import { sampleBytes } from '@ambipede/firmware-protocol';

/** Consecutive samples as they came, times in device ticks. */
export interface TickBatch {
  firstSequence: number;
  count: number;
  firstTickUs: number;
  intervalUs: number;
  /** What each sample of the payload holds (SPEC.md, hello). */
  channels: number;
  payload: Uint8Array;
}

export type OrderOutput =
  | { kind: 'batch'; batch: TickBatch }
  /** Samples that will not come any more. */
  | { kind: 'gap'; firstSequence: number; count: number }
  /** Samples that had been passed on before: dropped. */
  | { kind: 'duplicate'; count: number }
  /** Samples that came after they had been given up as a gap: dropped, since what follows them is stored. */
  | { kind: 'late'; count: number };

export interface OrderState {
  windowSamples: number;
  /** Sequence of the next sample to pass on; null until the first batch tells. */
  next: number | null;
  /** Batches that wait for earlier ones, by sequence, without overlap. */
  waiting: TickBatch[];
  /** The newest gaps, so that a late sample can be told from a repeated one. */
  gaps: { from: number; to: number }[];
}

const GAPS_REMEMBERED = 16;

export function startOrder(next: number | null, windowSamples: number): OrderState {
  return { windowSamples, next, waiting: [], gaps: [] };
}

/** `oldestSequence`: the oldest sample that the device can still send. */
export function stepOrder(state: OrderState, batch: TickBatch, oldestSequence: number): OrderOutput[] {
  state.next ??= Math.min(batch.firstSequence, oldestSequence);
  const out: OrderOutput[] = [];
  const late = lateSamples(state, batch);
  const duplicates = insert(state, batch) - late;
  if (late > 0) out.push({ kind: 'late', count: late });
  if (duplicates > 0) out.push({ kind: 'duplicate', count: duplicates });
  passOn(state, out);
  // The device has said that it will not send these any more.
  while (state.next < oldestSequence && skipGap(state, oldestSequence, out)) passOn(state, out);
  while (reachOf(state) > state.windowSamples && skipGap(state, Infinity, out)) passOn(state, out);
  return out;
}

/** The same stream from `next` on, for samples that are sent again. */
export function rewindOrder({ windowSamples, gaps }: OrderState, next: number | null): OrderState {
  return { windowSamples, next, waiting: [], gaps: gaps.filter(({ to }) => next !== null && to <= next) };
}

/** Nothing more will come: gaps are final, what waits is passed on. */
export function finishOrder(state: OrderState): OrderOutput[] {
  const out: OrderOutput[] = [];
  while (state.waiting.length > 0) {
    skipGap(state, Infinity, out);
    passOn(state, out);
  }
  return out;
}

/** Puts the parts of `batch` that are new among the waiting ones; returns how many samples were not new. */
function insert(state: OrderState, batch: TickBatch): number {
  const end = batch.firstSequence + batch.count;
  let from = Math.max(batch.firstSequence, state.next ?? 0);
  let fresh = 0;
  const merged: TickBatch[] = [];
  const add = (to: number): void => {
    if (to <= from) return;
    merged.push(part(batch, from, to));
    fresh += to - from;
  };
  for (const other of state.waiting) {
    if (other.firstSequence >= from) {
      add(Math.min(end, other.firstSequence));
      from = Math.max(from, Math.min(end, other.firstSequence));
    }
    if (other.firstSequence < end) from = Math.max(from, other.firstSequence + other.count);
    merged.push(other);
  }
  add(end);
  state.waiting = merged;
  return batch.count - fresh;
}

function lateSamples(state: OrderState, batch: TickBatch): number {
  const end = batch.firstSequence + batch.count;
  return state.gaps.reduce((sum, { from, to }) => {
    return sum + Math.max(0, Math.min(end, to) - Math.max(batch.firstSequence, from));
  }, 0);
}

function passOn(state: OrderState, out: OrderOutput[]): void {
  let head = state.waiting[0];
  while (head && head.firstSequence === state.next) {
    out.push({ kind: 'batch', batch: head });
    state.next += head.count;
    state.waiting.shift();
    head = state.waiting[0];
  }
}

/** Gives up what is missing before the first waiting batch, at most up to `limit`. False when there is nothing to skip. */
function skipGap(state: OrderState, limit: number, out: OrderOutput[]): boolean {
  const next = state.next as number;
  const target = Math.min(limit, state.waiting[0]?.firstSequence ?? limit);
  if (target <= next || target === Infinity) return false;
  out.push({ kind: 'gap', firstSequence: next, count: target - next });
  state.gaps.push({ from: next, to: target });
  if (state.gaps.length > GAPS_REMEMBERED) state.gaps.shift();
  state.next = target;
  return true;
}

/** Samples from the next wanted one to the end of the last waiting batch. */
function reachOf(state: OrderState): number {
  const last = state.waiting[state.waiting.length - 1];
  return last ? last.firstSequence + last.count - (state.next as number) : 0;
}

/** Samples `from` to `to` (exclusive, sequence numbers) of a batch. */
export function part(batch: TickBatch, from: number, to: number): TickBatch {
  const skip = from - batch.firstSequence;
  const count = to - from;
  if (skip === 0 && count === batch.count) return batch;
  const bytes = sampleBytes(batch.channels);
  return {
    firstSequence: from,
    count,
    firstTickUs: batch.firstTickUs + skip * batch.intervalUs,
    intervalUs: batch.intervalUs,
    channels: batch.channels,
    payload: batch.payload.subarray(skip * bytes, (skip + count) * bytes),
  };
}
