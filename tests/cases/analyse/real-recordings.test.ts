/**
 * Every open recording with truth that lies beside the repository (`shared/data/recordings`, listed there with source and
 * licence). The repository holds none of them: where they are absent these tests are skipped, by name.
 */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import type { AnalysisResult, Contact } from '@ambipede/shared';
import { beforeAll, describe, expect, it } from 'vitest';
import { analyseRecording } from '../../../server/src/analysis.ts';
import { readRecording } from '../../../server/src/exchange/motion-bids-reader.ts';
import { expectResultsFile } from './result-keys.ts';

const FOLDER = path.resolve(import.meta.dirname, '../../../../shared/data/recordings');
const isThere = existsSync(FOLDER);
const NAMES = isThere
  ? readdirSync(FOLDER, { withFileTypes: true })
      .filter((entry) => entry.isDirectory())
      .map((entry) => entry.name)
      .sort()
  : [];

interface Truth {
  contacts: Contact[];
  valid_spans: [number, number][];
}

/** As far apart as a stance and its truth may be to be the same step, s: well under a step time. */
const SAME_STEP_S = 0.2;

const results = new Map<string, AnalysisResult>();

beforeAll(async () => {
  for (const name of NAMES) results.set(name, analyseRecording(await readRecording(path.join(FOLDER, name))));
}, 120_000);

function truthOf(name: string): Truth {
  return JSON.parse(readFileSync(path.join(FOLDER, `${name}.truth.json`), 'utf8')) as Truth;
}

/** Kept stances with a side that have a true contact near, and those of them on the wrong side. */
function sidesAgainstTruth(name: string): { matched: number; wrong: string[] } {
  const { contacts, valid_spans: spans } = truthOf(name);
  const landings = contacts.filter((c) => c.type === 'initial_contact');
  const wrong: string[] = [];
  let matched = 0;
  for (const stance of results.get(name)!.stances) {
    const t = stance.initialContact;
    if (stance.side === 'unknown' || !spans.some(([from, to]) => t >= from && t <= to)) continue;
    const near = landings.filter((c) => Math.abs(c.t - t) < SAME_STEP_S);
    const truth = near.sort((a, b) => Math.abs(a.t - t) - Math.abs(b.t - t))[0];
    if (truth === undefined) continue;
    matched += 1;
    if (truth.side !== stance.side) wrong.push(`${name} at ${t.toFixed(2)} s`);
  }
  return { matched, wrong };
}

describe.skipIf(!isThere)('recordings in shared/data', () => {
  it('are all analysed to the results file of the design', () => {
    expect(results.size).toBeGreaterThan(60);
    for (const result of results.values()) expectResultsFile(result);
  });

  it('give the side right in at least 99.5 % of the stances that are kept (goal of the design)', () => {
    const all = NAMES.map(sidesAgainstTruth);
    const matched = all.reduce((sum, each) => sum + each.matched, 0);
    const wrong = all.flatMap((each) => each.wrong);
    expect(matched).toBeGreaterThan(800);
    expect(wrong.length / matched, wrong.join(', ')).toBeLessThanOrEqual(0.005);
  });

  it('with pelvis and upper back give angles of both, and stances of both feet', () => {
    const result = results.get('qmt_fullbody')!;
    for (const key of ['pelvicObliquityDeg', 'trunkLateralTiltDeg', 'separationDeg'] as const) {
      expect(result.angles[key].filter((value) => value !== null).length).toBeGreaterThan(9000);
    }
    for (const side of ['left', 'right'] as const) {
      expect(result.asymmetry.leanToStanceMeanDeg![side].n).toBeGreaterThanOrEqual(40);
    }
  });

  it('without a gyroscope give contacts of unknown side and say so', () => {
    for (const name of NAMES.filter((each) => each.startsWith('grf_run'))) {
      const result = results.get(name)!;
      expect(result.contacts.length, name).toBeGreaterThan(10);
      expect(new Set(result.contacts.map((contact) => contact.side))).toEqual(new Set(['unknown']));
      expect(result.quality.remarks.join(' ')).toMatch(/no gyroscope/);
    }
  });

  it('of the lower back alone say that nothing is known of the trunk', () => {
    for (const name of NAMES.filter((each) => each.startsWith('ipol'))) {
      const result = results.get(name)!;
      expect(result.quality.remarks.join(' '), name).toMatch(/No sternum sensor/);
      expect(result.asymmetry.leanToStanceMeanDeg!.verdict).toBe('not measured');
    }
  });
});
