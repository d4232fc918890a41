/** A simulated session through the live feed of one athlete, with the taps of its lead-in; samples come as they would. */
import { LEAD_IN_STEPS, PLACES, type LeadInStep, type LiveMessage, type Task } from '@ambipede/shared';
import type { Columns, SimulatedSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import type { TimedSample } from '../../server/src/ingest/raw-samples.ts';
import { AthleteFeed } from '../../server/src/session/athlete-feed.ts';

export const FEED_START_UTC_MS = 1_780_000_000_000;
const PACKET_S = 0.05;
const TICK_S = 0.5;

export interface FedTrial {
  task: Task;
  startS: number;
  endS: number;
  bodyMassKg?: number;
}

export interface FedSession {
  feed: AthleteFeed;
  messages: LiveMessage[];
  /** The time at which each message was sent, seconds of the session. */
  sentS: number[];
}

/** The trial has the id `t`. */
export function feedSession(movement: SimulatedSession, trial: FedTrial): FedSession {
  const { rateHz, streams, marks } = movement;
  const messages: LiveMessage[] = [];
  const sentS: number[] = [];
  let nowS = 0;
  const utcMs = (seconds: number): number => FEED_START_UTC_MS + seconds * 1000;
  const feed = new AthleteFeed('a', {}, FEED_START_UTC_MS, (message) => {
    messages.push(message);
    sentS.push(nowS);
  });
  const session = { id: 's', startedUtcMs: FEED_START_UTC_MS, leadInStep: null };
  feed.restart(session, { pelvis: rateHz, sternum: rateHz }, FEED_START_UTC_MS);
  const leadIn = marks.filter(({ kind }) => (LEAD_IN_STEPS as readonly string[]).includes(kind));
  const at = { pelvis: 0, sternum: 0 };
  let state: 'before' | 'running' | 'ended' = 'before';
  let nextTickS = TICK_S;
  for (nowS = PACKET_S; nowS < streams.pelvis.tS.at(-1)!; nowS += PACKET_S) {
    if (state === 'before' && nowS >= trial.startS) {
      const { task, bodyMassKg = null } = trial;
      feed.startTrial({ id: 't', task, startedUtcMs: utcMs(nowS), bodyMassKg });
      state = 'running';
    }
    if (state === 'running' && nowS >= trial.endS) {
      feed.endTrial('t', utcMs(nowS));
      state = 'ended';
    }
    for (const place of PLACES) {
      const columns = streams[place];
      if (!columns) continue;
      const from = at[place];
      while (at[place] < columns.tS.length && columns.tS[at[place]]! < nowS) at[place] += 1;
      feed.takeSamples(place, samplesOf(columns, from, at[place]), utcMs(nowS));
    }
    while (leadIn[0] && leadIn[0].endS < nowS) {
      const { kind, startS, endS } = leadIn.shift()!;
      feed.endLeadIn({ step: kind as LeadInStep, startUtcMs: utcMs(startS), endUtcMs: utcMs(endS) }, utcMs(nowS));
    }
    if (nowS < nextTickS) continue;
    nextTickS += TICK_S;
    feed.tick(utcMs(nowS));
    feed.tellTask();
  }
  return { feed, messages, sentS };
}

function samplesOf(columns: Columns, from: number, to: number): TimedSample[] {
  return Array.from({ length: to - from }, (_, i) => {
    const value = (name: keyof Columns): number => columns[name][from + i]!;
    const utcMs = FEED_START_UTC_MS + value('tS') * 1000;
    const [ax, ay, az] = [value('ax'), value('ay'), value('az')];
    return { utcMs, ax, ay, az, gx: value('gx'), gy: value('gy'), gz: value('gz') };
  });
}
