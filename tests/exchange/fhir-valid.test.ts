/** The exported Bundle against the official JSON schema of HL7 FHIR R4 and its rules; and broken ones, which have to be refused. */
import { describe, expect, it } from 'vitest';
import { STANCE_METRIC_KEYS } from '../../shared/src/index.ts';
import { fhirBundle } from '../../server/src/exchange/fhir-bundle.ts';
import { brokenRules, schemaProblems } from './fhir-r4.ts';
import { sampleFinal, sampleTrial } from './fhir-sample.ts';

// eslint-disable-next-line @typescript-eslint/no-explicit-any
type Loose = any;

/** As a receiver reads it. */
const read = (changes = {}, trial = {}): Loose =>
  JSON.parse(JSON.stringify(fhirBundle({ ...sampleTrial, ...trial }, sampleFinal(changes))));

describe('the exported bundle', () => {
  it.each<[string, object, object]>([
    ['of a whole result', {}, {}],
    ['of a result that lacks samples', { dataComplete: false, problem: 'The last 1.0 s had not arrived.' }, {}],
    ['of a discarded trial', { discarded: true }, {}],
    ['of a version that kept no quality', { quality: null }, {}],
    ['of a version that had no metric', { metrics: [] }, {}],
    ['without an end', {}, { endedUtcMs: null }],
  ])('%s is valid R4', (_which, changes, trial) => {
    const bundle = read(changes, trial);
    expect(schemaProblems(bundle)).toEqual([]);
    expect(brokenRules(bundle)).toEqual([]);
  });

  it('has an observation for each metric of the result, in the order of the catalogue', () => {
    const keys = read().entry.map(({ resource }: Loose) => resource.code.coding[0].code);
    expect(keys).toEqual([...STANCE_METRIC_KEYS]);
    expect(read({ metrics: [] })).not.toHaveProperty('entry');
  });
});

describe('the schema refuses', () => {
  const first = (bundle: Loose): Loose => bundle.entry[0].resource;
  const left = (bundle: Loose): Loose => first(bundle).component[0];
  it.each<[string, (bundle: Loose) => void]>([
    ['an unknown field of the bundle', (b) => void (b.athlete = 'x')],
    ['an unknown field of an observation', (b) => void (first(b).asymmetry = 1)],
    ['an unknown field of a component', (b) => void (left(b).side = 'left')],
    ['a unit that is a number', (b) => void (left(b).valueQuantity.unit = 5)],
    ['a unit that is an object', (b) => void (left(b).valueQuantity.code = { code: 's' })],
    ['a value that is text', (b) => void (left(b).valueQuantity.value = '0.25')],
    ['a number of stances that is text', (b) => void (first(b).component[5].valueInteger = '8')],
    ['a status that R4 does not have', (b) => void (first(b).status = 'provisional')],
    ['an observation without a code', (b) => void delete first(b).code],
    ['a component without a code', (b) => void delete left(b).code],
    ['a note that is not in a list', (b) => void (first(b).note = { text: 'text' })],
    ['a time without its zone', (b) => void (first(b).effectivePeriod.start = '2026-03-04T09:30:00')],
    ['an id with a character that ids have not', (b) => void (first(b).id = 'a_b')],
    ['a bundle of an unknown type', (b) => void (b.type = 'box')],
    ['a resource of an unknown type', (b) => void (first(b).resourceType = 'Asymmetry')],
  ])('%s', (_what, damage) => {
    const bundle = read();
    damage(bundle);
    expect(schemaProblems(bundle)).not.toEqual([]);
  });
});

describe('the rules beside the schema refuse', () => {
  const first = (bundle: Loose): Loose => bundle.entry[0].resource;
  it.each<[string, string, (bundle: Loose) => void]>([
    ['an observation without a status', 'Observation.status 1..1', (b) => void delete first(b).status],
    ['an observation without a code', 'Observation.code 1..1', (b) => void delete first(b).code],
    ['a component without a code', 'Observation.component.code 1..1', (b) => void delete first(b).component[0].code],
    ['a note without text', 'Annotation.text 1..1', (b) => void delete first(b).note[0].text],
    ['a bundle without a type', 'Bundle.type 1..1', (b) => void delete b.type],
    ['a total in a collection', 'bdl-1', (b) => void (b.total = 23)],
    ['an entry without a resource', 'bdl-5', (b) => void b.entry.push({ fullUrl: 'urn:x', resource: undefined })],
    ['the same fullUrl twice', 'bdl-7', (b) => void (b.entry[1].fullUrl = b.entry[0].fullUrl)],
    [
      'a fullUrl of one version',
      'bdl-8',
      (b) => void (b.entry[0].fullUrl = 'http://example.org/Observation/1/_history/2'),
    ],
    [
      'a value beside the reason why there is none',
      'obs-6',
      (b) => void Object.assign(first(b), { valueInteger: 1, dataAbsentReason: { text: 'none' } }),
    ],
    [
      'a component with both',
      'Observation.component.dataAbsentReason',
      (b) => void (first(b).component[0].dataAbsentReason = { text: 'none' }),
    ],
    [
      'a value whose code is that of a component',
      'obs-7',
      (b) => void Object.assign(first(b), { valueInteger: 1, code: first(b).component[0].code }),
    ],
    ['an end before the start', 'per-1', (b) => void (first(b).effectivePeriod.end = '2020-01-01T00:00:00Z')],
    ['a code of a unit without its system', 'qty-3', (b) => void delete first(b).component[0].valueQuantity.system],
    ['an empty list', 'ele-1', (b) => void (first(b).note = [])],
    ['an empty text', 'ele-1', (b) => void (first(b).method.text = '')],
    ['null', 'ele-1', (b) => void (first(b).component[0].valueQuantity.value = null)],
  ])('%s', (_what, rule, damage) => {
    const bundle = read();
    damage(bundle);
    expect(brokenRules(JSON.parse(JSON.stringify(bundle)))).toContain(rule);
  });
});
