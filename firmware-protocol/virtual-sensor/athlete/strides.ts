/** Bounding from mark to mark: where the marks are sets the length of each step, so no two last alike. */
import type { ScriptStep } from './script.ts';
import type { StepTarget } from './plan.ts';

/** Speed gathered in these shares of the bounding speed, in quick short steps (M). */
const GATHER = [0.35, 0.6, 0.8, 0.92];
/** Each lifts off a little more than the one before, and so down again after the last mark. */
const GATHER_FLIGHT_S = [0.02, 0.06, 0.11, 0.17];
const EASE_FLIGHT_S = [0.17, 0.1];
const EASE_SHARE = 0.95;
const GATHER_CONTACT_S = 0.23;
const CONTACT_S = 0.21;
/** A longer bound is pushed off a little longer, and flown faster only in part: the rest is time in the air (M). */
const FASTER_SHARE = 0.3;

export function stridesTargets(step: Extract<ScriptStep, { kind: 'strides' }>): StepTarget[] {
  const contactS = step.contactTimeS ?? CONTACT_S;
  const meanM = step.lengthsM.reduce((a, b) => a + b, 0) / step.lengthsM.length;
  const small = (share: number, flightS: number): StepTarget => ({
    vigour: share,
    speedMps: share * step.speedMps,
    stepTimeS: GATHER_CONTACT_S + flightS,
    flightS,
    kind: 'step',
    steady: false,
  });
  const targets = GATHER.map((share, k) => small(share, GATHER_FLIGHT_S[k]!));
  const speeds = step.lengthsM.map((lengthM) => step.speedMps * (lengthM / meanM) ** FASTER_SHARE);
  step.lengthsM.forEach((lengthM, k) => {
    // The speed is that at the contact; on the way it goes over to the next one.
    const stepTimeS = (2 * lengthM) / (speeds[k]! + (speeds[k + 1] ?? EASE_SHARE * step.speedMps));
    targets.push({
      vigour: 1,
      speedMps: speeds[k]!,
      stepTimeS,
      flightS: stepTimeS - contactS * (stepTimeS / (meanM / step.speedMps)) ** FASTER_SHARE,
      kind: 'step',
      steady: false,
    });
  });
  targets.push(...EASE_FLIGHT_S.map((flightS) => small(EASE_SHARE, flightS)));
  return targets;
}
