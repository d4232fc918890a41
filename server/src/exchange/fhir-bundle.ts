/** The final result of a trial as HL7 FHIR R4: a Bundle with an Observation for each metric. What it says: docs/exchange.md. */
import { METRICS, PLACES, type MetricAsymmetry, type StanceMetricKey, type TrialSummary } from '@ambipede/shared';
import type { FinalResult } from '../store/final-result.ts';
import { componentsOf, whyAbsent } from './fhir-components.ts';
import { notesOf } from './fhir-notes.ts';
import {
  ACTIVITY,
  ATHLETE_SYSTEM,
  METRIC_SYSTEM,
  PSEUDONYMISED,
  URI_SYSTEM,
  VERSION_SYSTEM,
  absent,
} from './fhir-terms.ts';
import type { Bundle, Observation } from './fhir-types.ts';
import { exportedId } from './fhir-uuid.ts';
import { pseudonymOf } from './pseudonym.ts';

export type ExportedTrial = Pick<TrialSummary, 'id' | 'athleteId' | 'task' | 'startedUtcMs' | 'endedUtcMs'>;

/** The same trial and result give the same bytes. */
export function fhirBundle(trial: ExportedTrial, result: FinalResult): Bundle {
  const id = exportedId(trial.id);
  const entry = result.metrics.map(([metric, of]) => {
    const resource = observationOf(trial, result, metric, of);
    return { fullUrl: urn(resource.id), resource };
  });
  return {
    resourceType: 'Bundle',
    id,
    identifier: { system: URI_SYSTEM, value: urn(id) },
    type: 'collection',
    ...(entry.length > 0 && { entry }),
  };
}

function observationOf(
  trial: ExportedTrial,
  result: FinalResult,
  metric: StanceMetricKey,
  of: MetricAsymmetry,
): Observation {
  const { label, unit } = METRICS[metric];
  const { task } = trial;
  const id = exportedId(trial.id, metric);
  return {
    resourceType: 'Observation',
    id,
    meta: { security: [PSEUDONYMISED] },
    identifier: [{ system: URI_SYSTEM, value: urn(id) }],
    status: statusOf(result),
    category: [ACTIVITY],
    code: {
      coding: [{ system: METRIC_SYSTEM, code: metric, display: label }],
      text: `${label}, left against right (${task})`,
    },
    subject: {
      type: 'Patient',
      identifier: { system: ATHLETE_SYSTEM, value: pseudonymOf('athlete', trial.athleteId) },
    },
    effectivePeriod: periodOf(trial),
    ...(of.verdict === 'not measured' && { dataAbsentReason: absent(whyAbsent(of)) }),
    note: notesOf(result, metric, of).map((text) => ({ text })),
    method: {
      coding: [{ system: VERSION_SYSTEM, code: result.version }],
      text: `Ambipede, algorithm ${result.version}`,
    },
    device: { display: deviceOf(result) },
    component: componentsOf(task, unit, of),
  };
}

/** `final` is only what nothing is missing from, and what counts for the history. */
function statusOf({ dataComplete, problem, discarded }: FinalResult): Observation['status'] {
  return dataComplete && problem === null && !discarded ? 'final' : 'preliminary';
}

function periodOf({ startedUtcMs, endedUtcMs }: ExportedTrial): Observation['effectivePeriod'] {
  const iso = (utcMs: number): string => new Date(utcMs).toISOString();
  return { start: iso(startedUtcMs), ...(endedUtcMs !== null && { end: iso(endedUtcMs) }) };
}

function deviceOf({ quality }: FinalResult): string {
  const places = PLACES.filter((place) => quality?.mounting[place]);
  return places.length === 0 ? 'Wearable inertial sensors' : `Wearable inertial sensors at: ${places.join(', ')}`;
}

function urn(id: string): string {
  return `urn:uuid:${id}`;
}
