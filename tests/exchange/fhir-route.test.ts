/** The route: a stored trial as it is sent, and the errors of what has no result. */
import { beforeAll, describe, expect, it } from 'vitest';
import { STANCE_METRIC_KEYS, type ApiError, type TrialView } from '../../shared/src/index.ts';
import type { Bundle } from '../../server/src/exchange/fhir-types.ts';
import { failTrial, saveResult } from '../../server/src/store/save-result.ts';
import { markReanalysing } from '../../server/src/store/trials.ts';
import { makeResult } from '../support/sample-result.ts';
import { storeNoiseTrial } from '../support/stored-trials.ts';
import { useTestApp, type Suite } from '../support/suite-app.ts';
import { brokenRules, schemaProblems } from './fhir-r4.ts';
import { observationFor, partOf, sampleAsymmetry } from './fhir-sample.ts';

const UNKNOWN_ID = '00000000-0000-4000-8000-000000000000';
const NAME = 'Nobody At All';
const NOTE = 'Nobody limped a little.';

let suite: Suite;
let trialId: string;
useTestApp((ready) => (suite = ready));

const pathOf = (id: string, file = 'fhir.json'): string => `/api/trials/${id}/export/${file}`;
const fetchBundle = (): Promise<Bundle> => suite.api.call<Bundle>('GET', pathOf(trialId));
const store = (outcome: { problem: string | null; dataComplete: boolean }): Promise<void> =>
  saveResult(suite.database.db, trialId, { ...makeResult(), asymmetry: sampleAsymmetry() }, outcome);
const statusesOf = ({ entry }: Bundle): string[] => [...new Set(entry!.map(({ resource }) => resource.status))];

beforeAll(async () => {
  trialId = await storeNoiseTrial(suite.database);
  await store({ problem: null, dataComplete: true });
  const { athleteId } = await suite.api.call<TrialView>('GET', `/api/trials/${trialId}`);
  await suite.api.call('PATCH', `/api/athletes/${athleteId}`, { name: NAME });
  await suite.api.call('PATCH', `/api/trials/${trialId}`, { note: NOTE, tags: ['limp'] });
});

describe('the FHIR export of a stored trial', () => {
  it('is a valid bundle, sent as FHIR and as a file, without a name or what the coach typed', async () => {
    const response = await fetch(suite.api.url + pathOf(trialId));
    const text = await response.text();
    expect(response.status).toBe(200);
    expect(response.headers.get('content-type')).toMatch(/^application\/fhir\+json(;|$)/);
    expect(response.headers.get('content-disposition')).toBe(
      `attachment; filename="stand-${trialId.slice(0, 8)}-fhir.json"`,
    );
    expect(response.headers.get('cache-control')).toBe('no-store');
    const bundle = JSON.parse(text) as Record<string, unknown>;
    expect(schemaProblems(bundle)).toEqual([]);
    expect(brokenRules(bundle)).toEqual([]);
    const { athleteId } = await suite.api.call<TrialView>('GET', `/api/trials/${trialId}`);
    for (const secret of [NAME, 'Nobody', 'limp', athleteId]) expect(text).not.toContain(secret);
  });

  it('has the differences that the trial shows, side by side, number by number', async () => {
    const bundle = await fetchBundle();
    const { asymmetry, version } = await suite.api.call<TrialView>('GET', `/api/trials/${trialId}`);
    expect(bundle.entry).toHaveLength(STANCE_METRIC_KEYS.length);
    for (const metric of STANCE_METRIC_KEYS) {
      const observation = observationFor(bundle, metric);
      const { left, right, difference, ci95 } = asymmetry[metric]!;
      const parts = ['left', 'right', 'difference', 'difference-ci95-low', 'difference-ci95-high'];
      expect(parts.map((part) => partOf(observation, part).valueQuantity?.value ?? null)).toEqual([
        ...[left.mean, right.mean, difference, ci95?.[0] ?? null, ci95?.[1] ?? null],
      ]);
      expect(partOf(observation, 'left-n').valueInteger).toBe(left.n);
      expect(partOf(observation, 'right-n').valueInteger).toBe(right.n);
      expect(observation.method.coding[0]!.code).toBe(version);
    }
  });

  it('is final when all samples are there, and else preliminary', async () => {
    expect(statusesOf(await fetchBundle())).toEqual(['final']);
    await store({ problem: 'The last 1.0 s of the pelvis sensor had not arrived.', dataComplete: false });
    expect(statusesOf(await fetchBundle())).toEqual(['preliminary']);
    await store({ problem: null, dataComplete: true });
    await suite.api.call('PATCH', `/api/trials/${trialId}`, { discarded: true });
    expect(statusesOf(await fetchBundle())).toEqual(['preliminary']);
    await suite.api.call('PATCH', `/api/trials/${trialId}`, { discarded: false });
    expect(statusesOf(await fetchBundle())).toEqual(['final']);
  });

  it('has the ids that it had before when the trial has been analysed again', async () => {
    const before = await fetchBundle();
    await saveResult(
      suite.database.db,
      trialId,
      { ...makeResult(), version: 'test-2', asymmetry: sampleAsymmetry() },
      { problem: null, dataComplete: true },
    );
    const after = await fetchBundle();
    await store({ problem: null, dataComplete: true });
    expect(after.entry!.map(({ fullUrl }) => fullUrl)).toEqual(before.entry!.map(({ fullUrl }) => fullUrl));
    expect(after.entry![0]!.resource.method.coding[0]!.code).toBe('test-2');
  });
});

describe('a trial without a result', () => {
  const errorOf = (file: string): Promise<ApiError> => suite.api.call('GET', pathOf(trialId, file), undefined, 409);

  it('that is not there, or has no id of a trial, is an error', async () => {
    const { error } = await suite.api.call<ApiError>('GET', pathOf(UNKNOWN_ID), undefined, 404);
    expect(error.code).toBe('not-found');
    await suite.api.call('GET', pathOf('1'), undefined, 400);
  });

  it('has the error that its stances have, while it is made and when it failed', async () => {
    const { db } = suite.database;
    await markReanalysing(db, trialId);
    expect(await errorOf('fhir.json')).toEqual(await errorOf('stances.csv'));
    expect(await errorOf('fhir.json')).toMatchObject({ error: { code: 'not-final' } });
    await failTrial(db, trialId, { problem: 'No samples of the pelvis sensor.', dataComplete: true });
    expect(await errorOf('fhir.json')).toEqual(await errorOf('stances.csv'));
    expect(await errorOf('fhir.json')).toEqual({
      error: { code: 'no-result', message: 'No samples of the pelvis sensor.' },
    });
  });
});
