/** From stored raw batches to what the analysis starts from. The same batches give the same recording. */
import { crc32c } from '@ambipede/firmware-protocol';
import { PLACES } from '@ambipede/shared';
import type { LeadInStep, Place, Task } from '@ambipede/shared';
import type { RawBatch } from '../ingest/raw-log.ts';
import { decodePayload } from '../ingest/raw-samples.ts';
import type { ImuSample, Recording } from '../motion/types.ts';

/** The filters settle before a lead-in step, and before a trial, with real samples. */
export const LEAD_IN_BEFORE_MS = 5000;
export const LEAD_IN_AFTER_MS = 1000;
export const TRIAL_BEFORE_MS = 10_000;
/** The last stance is only known to have ended by what follows it. */
export const TRIAL_AFTER_MS = 2000;
/** Rate of a sensor that has sent nothing yet. */
export const RATE_HZ_DEFAULT = 200;

export interface LeadInSpan {
  step: LeadInStep;
  startUtcMs: number;
  endUtcMs: number;
}

/** Half-open span of time, ms UTC. */
export type Window = [fromUtcMs: number, toUtcMs: number];

export interface TrialSpan {
  task: Task;
  startUtcMs: number;
  endUtcMs: number;
  bodyMassKg: number | null;
}

/** Spans of raw samples that belong to a trial and its lead-in, merged and in order. */
export function windowsOf(leadIn: readonly LeadInSpan[], trial: TrialSpan | null): Window[] {
  const wanted: Window[] = leadIn.map((span) => [
    span.startUtcMs - LEAD_IN_BEFORE_MS,
    span.endUtcMs + LEAD_IN_AFTER_MS,
  ]);
  if (trial) wanted.push([trial.startUtcMs - TRIAL_BEFORE_MS, trial.endUtcMs + TRIAL_AFTER_MS]);
  wanted.sort((a, b) => a[0] - b[0]);
  const merged: Window[] = [];
  for (const [from, to] of wanted) {
    const last = merged[merged.length - 1];
    if (last && from <= last[1]) last[1] = Math.max(last[1], to);
    else merged.push([from, to]);
  }
  return merged;
}

/** Throws Error when a payload is not what was received. */
export function samplesWithin(
  batches: readonly RawBatch[],
  [fromUtcMs, toUtcMs]: Window,
  baseUtcMs: number,
): ImuSample[] {
  const samples: ImuSample[] = [];
  for (const batch of batches) {
    if (crc32c(batch.payload) !== batch.crc32c) {
      throw new Error(
        `Stored samples ${batch.firstSequence} and following of ${batch.deviceId} are damaged: restore the database from a backup.`,
      );
    }
    for (const { utcMs, ...values } of decodePayload(batch)) {
      if (utcMs >= fromUtcMs && utcMs < toUtcMs) samples.push({ tS: (utcMs - baseUtcMs) / 1000, ...values });
    }
  }
  return samples;
}

/** Nominal rate in whole Hz from the middle one of the batches' intervals, which device clocks state within a few ppm. */
export function nominalRateHz(batches: readonly RawBatch[]): number {
  const intervals = batches.map((batch) => batch.intervalUs).sort((a, b) => a - b);
  const middle = intervals[intervals.length >> 1];
  return middle === undefined ? RATE_HZ_DEFAULT : Math.max(1, Math.round(1e6 / middle));
}

/** Raw batches of the devices of a session, per window and place. */
export type WindowBatches = { window: Window; batches: Partial<Record<Place, RawBatch[]>> }[];

/** Times are seconds since the session's start, as in the live stream. */
export function buildRecording(
  trial: TrialSpan,
  leadIn: readonly LeadInSpan[],
  raw: WindowBatches,
  sessionStartUtcMs: number,
): Recording {
  const seconds = (utcMs: number): number => (utcMs - sessionStartUtcMs) / 1000;
  const streams: Recording['streams'] = {};
  for (const place of PLACES) {
    const samples = raw.flatMap(({ window, batches }) =>
      samplesWithin(batches[place] ?? [], window, sessionStartUtcMs),
    );
    if (samples.length === 0) continue;
    streams[place] = { samples, rateHz: nominalRateHz(raw.flatMap(({ batches }) => batches[place] ?? [])) };
  }
  return {
    task: trial.task,
    streams,
    marks: [
      ...leadIn.map((span) => ({ kind: span.step, startS: seconds(span.startUtcMs), endS: seconds(span.endUtcMs) })),
      { kind: trial.task, startS: seconds(trial.startUtcMs), endS: seconds(trial.endUtcMs) },
    ],
    separateClocks: false,
    spanS: [seconds(trial.startUtcMs), seconds(trial.endUtcMs)],
    bodyMassKg: trial.bodyMassKg,
  };
}
