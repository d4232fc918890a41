/** What the exported Observations say: left is left, each number has its unit, and what is not known is no number. */
import { describe, expect, it } from 'vitest';
import { CAUTIONS, METRICS, STANCE_METRIC_KEYS, type StanceMetricKey } from '../../shared/src/index.ts';
import { fhirBundle } from '../../server/src/exchange/fhir-bundle.ts';
import type { Observation } from '../../server/src/exchange/fhir-types.ts';
import { pseudonymOf } from '../../server/src/exchange/pseudonym.ts';
import { makeAsymmetry } from '../support/sample-result.ts';
import {
  LEFT_MEAN,
  NOT_MEASURED,
  RIGHT_MEAN,
  TOO_FEW,
  observationFor,
  partOf,
  sampleAsymmetry,
  sampleFinal,
  sampleTrial,
} from './fhir-sample.ts';

const QUANTITIES = [
  'left',
  'right',
  'difference',
  'difference-ci95-low',
  'difference-ci95-high',
  'left-sd',
  'right-sd',
];

const bundle = fhirBundle(sampleTrial, sampleFinal());
const observations = bundle.entry!.map(({ resource }) => resource);
const valueOf = (of: Observation, part: string): number | undefined => partOf(of, part).valueQuantity?.value;
const notesOf = (of: Observation): string[] => of.note.map(({ text }) => text);
const firstOf = (changes: object): Observation => fhirBundle(sampleTrial, sampleFinal(changes)).entry![0]!.resource;

describe('the values', () => {
  const measured = STANCE_METRIC_KEYS.filter((metric) => metric !== NOT_MEASURED && metric !== TOO_FEW);

  it.each(measured)('of %s are left for left, right for right, and left minus right', (metric) => {
    const observation = observationFor(bundle, metric);
    expect(valueOf(observation, 'left')).toBe(LEFT_MEAN);
    expect(valueOf(observation, 'right')).toBe(RIGHT_MEAN);
    expect(valueOf(observation, 'difference')).toBe(LEFT_MEAN - RIGHT_MEAN);
    expect([partOf(observation, 'left-n').valueInteger, partOf(observation, 'right-n').valueInteger]).toEqual([8, 8]);
    const { ci95, left, right, verdict } = sampleAsymmetry()[metric]!;
    expect([valueOf(observation, 'difference-ci95-low'), valueOf(observation, 'difference-ci95-high')]).toEqual(ci95);
    expect([valueOf(observation, 'left-sd'), valueOf(observation, 'right-sd')]).toEqual([left.sd, right.sd]);
    expect(partOf(observation, 'verdict').valueString).toBe(verdict);
    expect(ci95![0]).toBeLessThan(ci95![1]);
  });

  it('are told apart where every one is another', () => {
    const of = makeAsymmetry({ left: { n: 8, mean: 1, sd: 2 }, right: { n: 7, mean: 3, sd: 4 }, difference: -2 });
    const observation = firstOf({
      metrics: [['stepTimeS', { ...of, ci95: [-5, 6], placementUncertainty: 9 }]],
    });
    const parts = [...QUANTITIES, 'placement-uncertainty'].map((part) => valueOf(observation, part));
    expect(parts).toEqual([1, 3, -2, -5, 6, 2, 4, 9]);
    expect(partOf(observation, 'left-n').valueInteger).toBe(8);
    expect(partOf(observation, 'right-n').valueInteger).toBe(7);
  });

  // UCUM (ucum.org), case-sensitive: `[g]` is the standard acceleration of free fall, and `g` would be gram.
  it.each<[RegExp, string]>([
    [/^(contact|flight|step)TimeS$/, 's'],
    [/Deg$/, 'deg'],
    [/^dutyFactor$/, '1'],
    [/^(verticalOscillation|lateralSway)M$/, 'm'],
    [/AccelerationG$/, '[g]'],
    [/Db$/, 'dB'],
    [/DegPerS$/, 'deg/s'],
    [/ForceN$/, 'N'],
    [/NPerM$/, 'N/m'],
  ])('of %s have the unit %s in UCUM', (pattern, code) => {
    const table = sampleAsymmetry()['stepTimeS']!;
    const metrics = STANCE_METRIC_KEYS.filter((metric) => pattern.test(metric));
    const of = fhirBundle(sampleTrial, sampleFinal({ metrics: metrics.map((metric) => [metric, table]) }));
    expect(of.entry!.length).toBeGreaterThan(0);
    for (const { resource } of of.entry!)
      for (const part of QUANTITIES)
        expect(partOf(resource, part).valueQuantity).toMatchObject({ system: 'http://unitsofmeasure.org', code });
  });

  it('have a unit from that table, whatever the metric', () => {
    const known = new Set(['s', 'deg', '1', 'm', '[g]', 'dB', 'deg/s', 'N', 'N/m']);
    const codes = observations.flatMap(({ component }) =>
      component.flatMap(({ valueQuantity }) => valueQuantity?.code ?? []),
    );
    expect(codes.length).toBeGreaterThan(0);
    expect(codes.filter((code) => !known.has(code))).toEqual([]);
  });
});

describe('what is not known', () => {
  /** http://hl7.org/fhir/R4/codesystem-data-absent-reason.html */
  const unknown = { system: 'http://terminology.hl7.org/CodeSystem/data-absent-reason', code: 'unknown' };

  it('has the reason instead of a number, also for all of a metric that was not measured', () => {
    const observation = observationFor(bundle, NOT_MEASURED);
    expect(observation.dataAbsentReason?.coding).toEqual([expect.objectContaining(unknown)]);
    for (const part of QUANTITIES) {
      expect(partOf(observation, part)).not.toHaveProperty('valueQuantity');
      expect(partOf(observation, part).dataAbsentReason?.coding).toEqual([expect.objectContaining(unknown)]);
    }
    expect(partOf(observation, 'left-n').valueInteger).toBe(0);
  });

  it('is only the difference where one side has stances, and the note says how many are missing', () => {
    const observation = observationFor(bundle, TOO_FEW);
    const { missingStances } = sampleAsymmetry()[TOO_FEW]!;
    expect(observation).not.toHaveProperty('dataAbsentReason');
    expect(valueOf(observation, 'left')).toBe(LEFT_MEAN + 0.125);
    for (const part of ['right', 'difference', 'difference-ci95-low', 'difference-ci95-high', 'left-sd'])
      expect(partOf(observation, part).dataAbsentReason?.text).toBe('Too few stances');
    expect(notesOf(observation)).toContain(
      `Too few stances to compare the sides: ${missingStances.left} more on the left and ${missingStances.right} more on the right are needed.`,
    );
  });

  it.each([NaN, Infinity, -Infinity])('is not written as a number when it is %d', (difference) => {
    const of = { ...sampleAsymmetry()['stepTimeS']!, difference };
    expect(partOf(firstOf({ metrics: [['stepTimeS', of]] }), 'difference')).not.toHaveProperty('valueQuantity');
  });
});

describe('an observation', () => {
  it('is final only when nothing is missing and the trial counts', () => {
    expect(observations.every(({ status }) => status === 'final')).toBe(true);
    expect(firstOf({ dataComplete: false }).status).toBe('preliminary');
    expect(firstOf({ discarded: true }).status).toBe('preliminary');
    expect(firstOf({ problem: 'The last 1.0 s had not arrived.' }).status).toBe('preliminary');
  });

  it('says why it is not final', () => {
    const notes = notesOf(
      firstOf({ dataComplete: false, discarded: true, problem: 'The last 1.0 s had not arrived.' }),
    );
    expect(notes.slice(0, 3)).toEqual([
      expect.stringMatching(/discarded/),
      expect.stringMatching(/still be on their way/),
      'The last 1.0 s had not arrived.',
    ]);
  });

  it('warns when the difference could come from how the sensors sit', () => {
    const metrics: [StanceMetricKey, object][] = [['stepTimeS', makeAsymmetry({ verdict: 'could be placement' })]];
    expect(notesOf(firstOf({ metrics })).join(' ')).toMatch(/no larger than the way the sensors sit/);
    expect(notesOf(observations[0]!).join(' ')).not.toMatch(/the way the sensors sit could/);
  });

  it('has all cautions, what the number means and what the recording cannot tell, each time', () => {
    const { remarks } = sampleFinal().quality!;
    expect(remarks.length).toBeGreaterThan(0);
    for (const observation of observations) {
      const metric = observation.code.coding[0]!.code as StanceMetricKey;
      expect(notesOf(observation)).toEqual(expect.arrayContaining([...CAUTIONS, METRICS[metric].meaning, ...remarks]));
    }
  });

  it('judges nothing: no interpretation, no range that would be normal, no value of its own', () => {
    for (const observation of observations)
      for (const field of ['interpretation', 'referenceRange', 'valueQuantity', 'valueString'])
        expect(observation).not.toHaveProperty(field);
  });

  it('names when, what with, by which version, in which task, and the person by pseudonym alone', () => {
    for (const observation of observations) {
      expect(observation.effectivePeriod).toEqual({
        start: '2026-03-04T09:30:00.250Z',
        end: '2026-03-04T09:31:10.005Z',
      });
      expect(observation.method.coding[0]!.code).toBe('test-1');
      expect(partOf(observation, 'task').valueString).toBe('run');
      expect(observation.subject.identifier.value).toBe(pseudonymOf('athlete', sampleTrial.athleteId));
    }
    expect(JSON.stringify(bundle)).not.toContain(sampleTrial.athleteId);
  });

  it('names the places of the sensors that were worn, and none that was not', () => {
    const quality = sampleFinal().quality!;
    const mounting = { source: 'none', quaternion: null, frontalUncertaintyDeg: null, remarks: [], details: {} };
    const device = (places: object): string => firstOf({ quality: { ...quality, mounting: places } }).device.display;
    expect(device({ pelvis: mounting })).toMatch(/pelvis$/);
    expect(device({ pelvis: mounting, sternum: mounting })).toMatch(/pelvis, sternum$/);
    expect(device({})).not.toMatch(/pelvis|sternum/);
  });

  it('has the same id each time, another one than every other, and its fullUrl is made of it', () => {
    const other = fhirBundle({ ...sampleTrial, id: sampleTrial.id.replace('5', '6') }, sampleFinal());
    const ids = [bundle, other].flatMap(({ id, entry }) => [id, ...entry!.map(({ resource }) => resource.id)]);
    expect(new Set(ids).size).toBe(ids.length);
    expect(JSON.stringify(fhirBundle(sampleTrial, sampleFinal()))).toBe(JSON.stringify(bundle));
    for (const { fullUrl, resource } of bundle.entry!) expect(fullUrl).toBe(`urn:uuid:${resource.id}`);
  });
});
