/** Left, right and the difference of one metric as components of its Observation: always the same ones, in the same order. */
import type { MetricAsymmetry, MetricInfo, SideSummary, Task } from '@ambipede/shared';
import { PART_SYSTEM, absent, quantityOf } from './fhir-terms.ts';
import type { CodeableConcept, ObservationComponent } from './fhir-types.ts';

const PARTS = {
  left: 'Left, mean of the stances',
  right: 'Right, mean of the stances',
  difference: 'Left minus right',
  'difference-ci95-low': 'Left minus right, lower end of the 95 % interval',
  'difference-ci95-high': 'Left minus right, upper end of the 95 % interval',
  'left-n': 'Left, number of stances',
  'right-n': 'Right, number of stances',
  'left-sd': 'Left, standard deviation between stances',
  'right-sd': 'Right, standard deviation between stances',
  'placement-uncertainty': 'Differences up to this could be the sensors’ own (95 %)',
  verdict: 'Difference against the scatter between stances',
  task: 'Task',
} as const;
export type Part = keyof typeof PARTS;

/** In words why a value of this metric is not there. */
export function whyAbsent({ verdict }: MetricAsymmetry): string {
  return verdict === 'not measured' ? 'Could not be measured in this trial' : 'Too few stances';
}

export function componentsOf(task: Task, unit: MetricInfo['unit'], of: MetricAsymmetry): ObservationComponent[] {
  const quantity = (part: Part, value: number | null): ObservationComponent => ({
    code: codeOf(part),
    ...(value !== null && Number.isFinite(value)
      ? { valueQuantity: quantityOf(value, unit) }
      : { dataAbsentReason: absent(whyAbsent(of)) }),
  });
  const count = (part: Part, { n }: SideSummary): ObservationComponent => ({ code: codeOf(part), valueInteger: n });
  const text = (part: Part, value: string): ObservationComponent => ({ code: codeOf(part), valueString: value });
  return [
    quantity('left', of.left.mean),
    quantity('right', of.right.mean),
    quantity('difference', of.difference),
    quantity('difference-ci95-low', of.ci95?.[0] ?? null),
    quantity('difference-ci95-high', of.ci95?.[1] ?? null),
    count('left-n', of.left),
    count('right-n', of.right),
    quantity('left-sd', of.left.sd),
    quantity('right-sd', of.right.sd),
    ...(of.placementUncertainty === undefined ? [] : [quantity('placement-uncertainty', of.placementUncertainty)]),
    text('verdict', of.verdict),
    text('task', task),
  ];
}

function codeOf(part: Part): CodeableConcept {
  return { coding: [{ system: PART_SYSTEM, code: part, display: PARTS[part] }] };
}
