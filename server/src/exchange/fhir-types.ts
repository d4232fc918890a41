/** Of HL7 FHIR R4 (4.0.1) the parts that are written here, under the names that they have there. */

export interface Coding {
  system: string;
  code: string;
  display?: string;
}

export interface CodeableConcept {
  coding: Coding[];
  text?: string;
}

export interface Identifier {
  system: string;
  value: string;
}

/** `code` is the unit in UCUM, `unit` the same for people. */
export interface Quantity {
  value: number;
  unit: string;
  system: string;
  code: string;
}

/** One of the values, or the reason why there is none. */
export interface ObservationComponent {
  code: CodeableConcept;
  valueQuantity?: Quantity;
  valueInteger?: number;
  valueString?: string;
  dataAbsentReason?: CodeableConcept;
}

export interface Observation {
  resourceType: 'Observation';
  id: string;
  meta: { security: Coding[] };
  identifier: Identifier[];
  status: 'final' | 'preliminary';
  category: CodeableConcept[];
  code: CodeableConcept;
  subject: { type: 'Patient'; identifier: Identifier };
  effectivePeriod: { start: string; end?: string };
  dataAbsentReason?: CodeableConcept;
  note: { text: string }[];
  method: CodeableConcept;
  device: { display: string };
  component: ObservationComponent[];
}

export interface Bundle {
  resourceType: 'Bundle';
  id: string;
  identifier: Identifier;
  type: 'collection';
  /** Absent when there is none: an array in FHIR is never empty. */
  entry?: { fullUrl: string; resource: Observation }[];
}
