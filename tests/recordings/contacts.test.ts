/**
 * Contacts on recordings of real people, which lie beside the repository (skipped where they are not). Figures of the
 * literature that a bound compares with are named beside it.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { analyseRecording } from '../../server/src/analysis.ts';
import { readRecording } from '../../server/src/exchange/motion-bids-reader.ts';
import { still, runStages, finalOf } from '../properties/contacts-signals.ts';
import { emptyCount, figuresOf, matchContacts, type MatchCount, type TrueContact } from '../bench/match.ts';
import { sharedRecordings } from '../bench/shared-recordings.ts';
import type { Contact } from '../../shared/src/index.ts';

const folder = sharedRecordings();
const WALKING_WINDOW_S = 0.1;
const RUNNING_WINDOW_S = 0.06;

interface Truth {
  contacts: TrueContact[];
  valid_spans: [number, number][];
}

function namesOf(start: string): string[] {
  return readdirSync(folder!)
    .filter((name) => name.startsWith(start) && !name.endsWith('.json'))
    .sort();
}

function truthOf(name: string): Truth {
  return JSON.parse(readFileSync(join(folder!, `${name}.truth.json`), 'utf8')) as Truth;
}

async function contactsOf(name: string): Promise<Contact[]> {
  return analyseRecording(await readRecording(join(folder!, name))).contacts;
}

/** The vertical as the recording names it, nothing else: these files have no gyroscope and two of three axes. */
async function contactsOfVertical(name: string): Promise<Contact[]> {
  const stream = (await readRecording(join(folder!, name))).streams.pelvis!;
  const frames = stream.samples.map((s, i) => ({ ...still(s.tS), up: s.az - 9.81, yawRate: NaN, fresh: i === 0 }));
  return finalOf(runStages(frames, stream.rateHz)).map((e) => ({
    t: e.tS,
    side: e.side,
    type: e.type,
    confidence: e.confidence,
  }));
}

async function count(
  names: readonly string[],
  windowS: number,
  find: (name: string) => Promise<Contact[]>,
): Promise<Record<TrueContact['type'], MatchCount>> {
  const counts = { initial_contact: emptyCount(), toe_off: emptyCount() };
  for (const name of names) {
    const truth = truthOf(name);
    const found = await find(name);
    for (const type of ['initial_contact', 'toe_off'] as const) {
      matchContacts(counts[type], type, truth.contacts, found, truth.valid_spans, windowS);
    }
  }
  return counts;
}

describe.skipIf(folder === null)('contacts on shared recordings', () => {
  test('walking with a lower-back sensor is timed as well as published (22 and 25 ms, Caramia et al. 2019)', async () => {
    const counts = await count(namesOf('ipol_'), WALKING_WINDOW_S, contactsOf);
    const ic = figuresOf(counts.initial_contact);
    const to = figuresOf(counts.toe_off);
    expect(ic.rmseMs).toBeLessThan(22);
    expect(to.rmseMs).toBeLessThan(25);
    // Of each walk the first toe-off and, at times, the last contact beside the other foot are not seen.
    expect(ic.missedPercent).toBeLessThan(6);
    expect(to.missedPercent).toBeLessThan(8);
    expect(ic.extraPercent).toBeLessThan(5);
    // Single-step rule on such data: 96.3 % (Ullrich et al. 2021).
    expect(ic.wrongSidePercent).toBeLessThan(1);
    expect(to.wrongSidePercent).toBeLessThan(1);
  });

  test('walking round corners: nothing is invented, no side is wrong, at most the first toe-off is missed', async () => {
    const counts = await count(['qmt_fullbody'], WALKING_WINDOW_S, contactsOf);
    for (const one of Object.values(counts)) {
      const figures = figuresOf(one);
      expect(figures.rmseMs).toBeLessThan(22);
      expect(one.missed).toBeLessThanOrEqual(1);
      expect([one.extra, one.wrongSide]).toEqual([0, 0]);
    }
  });

  test('standing for eighteen seconds between movements has no contact', async () => {
    const found = await contactsOf('qmt_fullbody');
    expect(found.filter((c) => c.t > 18.5 && c.t < 35.5)).toEqual([]);
  });

  test('running on slopes, against ground force: bias within 5 ms, scatter over people within 11 ms', async () => {
    const counts = await count(namesOf('grf_'), RUNNING_WINDOW_S, contactsOfVertical);
    for (const one of Object.values(counts)) {
      const figures = figuresOf(one);
      // Contact time by thresholds from the sacrum: RMSE 20 ms (Patoz et al. 2022).
      expect(Math.abs(figures.biasMs)).toBeLessThan(5);
      expect(figures.sdMs).toBeLessThan(11);
      expect(figures.missedPercent).toBeLessThan(2);
      expect(figures.extraPercent).toBeLessThan(1);
    }
  });

  test('a stand simulated from markers has no contact, a walk its steps with the right sides', async () => {
    for (const name of namesOf('zoo_').filter((n) => n.endsWith('static'))) expect(await contactsOf(name)).toEqual([]);
    const walks = namesOf('zoo_').filter((n) => !n.endsWith('static') && truthOf(n).valid_spans.length > 0);
    const counts = await count(walks, WALKING_WINDOW_S, contactsOf);
    expect(counts.initial_contact.wrongSide + counts.toe_off.wrongSide).toBe(0);
    expect(figuresOf(counts.initial_contact).rmseMs).toBeLessThan(30);
    expect(figuresOf(counts.toe_off).rmseMs).toBeLessThan(25);
  });
});
