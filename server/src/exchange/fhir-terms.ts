/** Codes and units: those of FHIR and UCUM where there are any, and our own for what only we name. */
import type { MetricInfo } from '@ambipede/shared';
import type { CodeableConcept, Coding, Quantity } from './fhir-types.ts';

/** Our own. No LOINC or SNOMED CT code is given: none was found that means exactly this, and a near one would mislead. */
export const METRIC_SYSTEM = 'urn:ambipede:metric';
export const PART_SYSTEM = 'urn:ambipede:part';
export const VERSION_SYSTEM = 'urn:ambipede:version';
export const ATHLETE_SYSTEM = 'urn:ambipede:athlete';

export const UCUM_SYSTEM = 'http://unitsofmeasure.org';
/** What FHIR calls the system of identifiers that are URIs themselves. */
export const URI_SYSTEM = 'urn:ietf:rfc:3986';

/** UCUM, case-sensitive. Plain `g` would be gram there. */
export const UCUM_CODE: Record<MetricInfo['unit'], string> = {
  s: 's',
  deg: 'deg',
  '1': '1',
  m: 'm',
  g: '[g]',
  'deg/s': 'deg/s',
  dB: 'dB',
  N: 'N',
  'N/m': 'N/m',
};

export const PSEUDONYMISED: Coding = {
  system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue',
  code: 'PSEUDED',
  display: 'pseudonymized',
};

export const ACTIVITY: CodeableConcept = {
  coding: [
    {
      system: 'http://terminology.hl7.org/CodeSystem/observation-category',
      code: 'activity',
      display: 'Activity',
    },
  ],
};

export function quantityOf(value: number, unit: MetricInfo['unit']): Quantity {
  return { value, unit, system: UCUM_SYSTEM, code: UCUM_CODE[unit] };
}

/** @param why in words: FHIR's own codes do not tell too few stances from none */
export function absent(why: string): CodeableConcept {
  const system = 'http://terminology.hl7.org/CodeSystem/data-absent-reason';
  return { coding: [{ system, code: 'unknown', display: 'Unknown' }], text: why };
}
