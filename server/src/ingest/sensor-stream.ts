/**
 * One stream (device, boot) through order, clock and stamp to batches as the log keeps them. It outlives the sockets that
 * feed it. Pure: no socket, no timer, the server's time comes with the input.
 *
 *   samples frame > order > wait for a clock > stamp > RawBatch
 *   time exchange > clock /
 */
import { NANO, crc32c, type HelloMessage, type ProtocolError, type SamplesMessage } from '@ambipede/firmware-protocol';
import { clockReady, startClock, stepClock, utcMsOf, type ClockState, type Exchange } from './clock.ts';
import { CLOCK_WAIT_SAMPLES, ORDER_WINDOW_SAMPLES } from './limits.ts';
import {
  finishOrder,
  rewindOrder,
  startOrder,
  stepOrder,
  type OrderOutput,
  type OrderState,
  type TickBatch,
} from './order.ts';
import type { RawBatch, StreamEnd } from './raw-log.ts';
import { stampBatch, type StampState } from './stamp.ts';

/** Samples may be stamped ahead of the server's time by the error of a young fit, not by more. */
export const AHEAD_MS_MAX = 1000;
/** Restarts of the clock fit without a steady minute between, before the device's clock is called broken. */
export const CLOCK_STEPS_MAX = 5;
const STEADY_EXCHANGES = 60;

export type StreamOutput =
  /** `gapBefore`: samples missing between this batch and the one before. */
  | { kind: 'batch'; batch: RawBatch; gapBefore: number }
  | { kind: 'late'; count: number }
  /** The connection has to end; nothing after the last batch was taken. */
  | { kind: 'fault'; error: ProtocolError };

export interface StreamCounts {
  received: number;
  lost: number;
  duplicates: number;
  late: number;
}

export interface SensorStream {
  deviceId: string;
  bootId: number;
  rateHz: number;
  accelScale: number;
  gyroScale: number;
  magnScale: number;
  channels: number;
  order: OrderState;
  clock: ClockState;
  stamp: StampState;
  /** Ordered, but without a time as long as the clock is not fitted. */
  held: OrderOutput[];
  heldSamples: number;
  gapBefore: number;
  counts: StreamCounts;
  /** State right after the last batch that went into the queue: where a resend takes up. */
  queued: { next: number | null; stamp: StampState; counts: StreamCounts };
  /** Every sample before this one is in the log. */
  durableNext: number;
  /** Sequence of the next sample that live has not had. */
  liveNext: number;
}

/** `end` is null for a stream never stored; undefined when the log could not tell. */
export function openStream(hello: HelloMessage, end: StreamEnd | null | undefined): SensorStream {
  const next = end === undefined ? null : (end?.nextSequence ?? 0);
  const stamp: StampState = { tickUs: null, utcMs: end?.endUtcMs ?? null };
  const counts: StreamCounts = { received: 0, lost: 0, duplicates: 0, late: 0 };
  return {
    deviceId: hello.deviceId,
    bootId: hello.bootId,
    rateHz: hello.rateMilliHz / 1000,
    accelScale: hello.accelScale * NANO,
    gyroScale: hello.gyroScale * NANO,
    magnScale: hello.magnScale * NANO,
    channels: hello.channels,
    order: startOrder(next, ORDER_WINDOW_SAMPLES),
    clock: startClock(),
    stamp,
    held: [],
    heldSamples: 0,
    gapBefore: 0,
    counts,
    queued: { next, stamp: { ...stamp }, counts: { ...counts } },
    durableNext: next ?? 0,
    liveNext: 0,
  };
}

/** Rate, scales and channels belong to the boot: samples still on the device were measured with them. */
export function isSameStream(stream: SensorStream, hello: HelloMessage): boolean {
  return (
    stream.rateHz === hello.rateMilliHz / 1000 &&
    stream.accelScale === hello.accelScale * NANO &&
    stream.gyroScale === hello.gyroScale * NANO &&
    stream.magnScale === hello.magnScale * NANO &&
    stream.channels === hello.channels
  );
}

export function acceptSamples(stream: SensorStream, message: SamplesMessage, nowUtcMs: number): StreamOutput[] {
  // A copy: the frame's memory belongs to the socket.
  const { firstSequence, count, firstTickUs, intervalUs, channels } = message;
  if (channels !== stream.channels) {
    return [fault('wrong-channels', `Samples with channels ${channels}; hello said ${stream.channels}.`)];
  }
  const payload = new Uint8Array(message.payload);
  const batch: TickBatch = { firstSequence, count, firstTickUs, intervalUs, channels, payload };
  return take(stream, stepOrder(stream.order, batch, message.oldestSequence), nowUtcMs);
}

export function acceptExchange(stream: SensorStream, exchange: Exchange): StreamOutput[] {
  stepClock(stream.clock, exchange);
  if (stream.clock.steady > STEADY_EXCHANGES) stream.clock.steps = Math.min(stream.clock.steps, 1);
  if (stream.clock.steps > CLOCK_STEPS_MAX) {
    return [
      fault('clock-unsteady', `Device time and server time ran apart ${stream.clock.steps} times: restart the device.`),
    ];
  }
  return take(stream, [], exchange.t4UtcMs);
}

/** The device has begun anew or says goodbye: what waits will not be completed any more. */
export function finishStream(stream: SensorStream, nowUtcMs: number): StreamOutput[] {
  const outputs = take(stream, finishOrder(stream.order), nowUtcMs, true);
  // Without a single time exchange nobody can say when these were measured.
  stream.counts.lost += stream.heldSamples;
  stream.held = [];
  stream.heldSamples = 0;
  return outputs;
}

/** The batch is in the queue: a resend takes up after it. */
export function markQueued(stream: SensorStream, batch: RawBatch): void {
  const { endUtcMs, firstTickUs, count, intervalUs, firstSequence } = batch;
  stream.queued = {
    next: firstSequence + count,
    stamp: { tickUs: firstTickUs + count * intervalUs, utcMs: endUtcMs },
    counts: { ...stream.counts },
  };
}

/** Before a resend: back to the last sample in the queue. The device sends again from the last durable one. */
export function rewindStream(stream: SensorStream): void {
  const { next, stamp, counts } = stream.queued;
  stream.order = rewindOrder(stream.order, next);
  stream.stamp = { ...stamp };
  stream.counts = { ...counts };
  stream.held = [];
  stream.heldSamples = 0;
  stream.gapBefore = 0;
}

function take(stream: SensorStream, ordered: OrderOutput[], nowUtcMs: number, atOnce = false): StreamOutput[] {
  const outputs: StreamOutput[] = [];
  for (const item of ordered) {
    if (item.kind === 'duplicate') stream.counts.duplicates += item.count;
    else if (item.kind === 'late') {
      stream.counts.late += item.count;
      outputs.push({ kind: 'late', count: item.count });
    } else {
      stream.held.push(item);
      if (item.kind === 'batch') stream.heldSamples += item.batch.count;
    }
  }
  if (!clockReady(stream.clock, atOnce)) {
    if (stream.heldSamples > CLOCK_WAIT_SAMPLES) {
      outputs.push(fault('time-missing', `${stream.heldSamples} samples wait for answers to the time requests.`));
    }
    return outputs;
  }
  const held = stream.held;
  stream.held = [];
  stream.heldSamples = 0;
  for (const item of held) {
    if (item.kind === 'gap') {
      stream.gapBefore += item.count;
      stream.counts.lost += item.count;
    } else if (item.kind === 'batch') {
      const output = stampedBatch(stream, item.batch, nowUtcMs);
      outputs.push(output);
      if (output.kind === 'fault') break;
    }
  }
  return outputs;
}

function stampedBatch(stream: SensorStream, ticks: TickBatch, nowUtcMs: number): StreamOutput {
  const { firstTickUs, intervalUs, count } = ticks;
  const endTickUs = firstTickUs + count * intervalUs;
  const { stamp, clock } = stream;
  if (!clock.fit) return fault('time-missing', 'No time exchange was answered.');
  if (stamp.tickUs !== null && firstTickUs < stamp.tickUs - intervalUs) {
    return fault(
      'tick-implausible',
      `Sample ${ticks.firstSequence} is measured before the end of the batch before it.`,
    );
  }
  const times = stampBatch(stamp, clock.fit, firstTickUs, endTickUs);
  if (utcMsOf(clock.fit, endTickUs) > nowUtcMs + AHEAD_MS_MAX) {
    return fault('tick-implausible', `Sample ${ticks.firstSequence} is measured in the future.`);
  }
  const gapBefore = stream.gapBefore;
  stream.gapBefore = 0;
  stream.counts.received += count;
  const batch: RawBatch = {
    deviceId: stream.deviceId,
    bootId: stream.bootId,
    ...ticks,
    ...times,
    accelScale: stream.accelScale,
    gyroScale: stream.gyroScale,
    magnScale: stream.magnScale,
    crc32c: crc32c(ticks.payload),
  };
  return { kind: 'batch', batch, gapBefore };
}

function fault(name: ProtocolError['name'], text: string): StreamOutput {
  return { kind: 'fault', error: { name, text } };
}
