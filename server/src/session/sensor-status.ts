/** What a sensor is doing, in the words of the live messages. Pure. */
import type { Place, SensorCondition, SensorStatus } from '@ambipede/shared';
import type { SensorState } from '../ingest/ingest.ts';

/** A newest sample younger than this counts as live: a frame's worth of samples and a Wi-Fi hiccup. */
export const STREAMING_BEHIND_S_MAX = 0.5;
/** Old samples that arrived within this time: the sensor is catching up. None: it is silent. */
export const ARRIVAL_AGE_S_MAX = 0.5;

export interface SensorInput {
  deviceId: string;
  place: Place;
  /** Null when it has not connected since the server started. */
  state: SensorState | null;
  /** Whether it has ever connected. */
  seenBefore: boolean;
  /** When its last samples arrived, ms UTC. */
  lastArrivalUtcMs: number | null;
  /** Counts at the session's start. */
  atStart: { received: number; lost: number };
}

export function judgeSensor(input: SensorInput, nowUtcMs: number): SensorStatus {
  const { state, atStart } = input;
  const newest = state?.newestUtcMs ?? null;
  const behindS = newest === null ? null : Math.max(0, (nowUtcMs - newest) / 1000);
  return {
    deviceId: input.deviceId,
    place: input.place,
    condition: conditionOf(input, behindS, nowUtcMs),
    behindS,
    lostSamples: Math.max(0, (state?.lostSamples ?? 0) - atStart.lost),
    receivedSamples: Math.max(0, (state?.receivedSamples ?? 0) - atStart.received),
    batteryPercent: state?.status?.batteryPercent ?? null,
    clockResidualMs: state?.clockResidualMs ?? null,
  };
}

function conditionOf(input: SensorInput, behindS: number | null, nowUtcMs: number): SensorCondition {
  const { state, seenBefore, lastArrivalUtcMs } = input;
  if (!state) return seenBefore ? 'disconnected' : 'never-seen';
  if (!state.connected) return 'disconnected';
  if (behindS === null || lastArrivalUtcMs === null) return 'silent';
  if (behindS <= STREAMING_BEHIND_S_MAX) return 'streaming';
  return nowUtcMs - lastArrivalUtcMs <= ARRIVAL_AGE_S_MAX * 1000 ? 'catching-up' : 'silent';
}
