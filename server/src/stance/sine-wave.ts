/**
 * Vertical force and stiffness of a running step from its times and the body mass: the push is taken as half a sine wave
 * (Morin et al. 2005, J Appl Biomech 21:167-180; formulas from memory, derived again and integrated numerically in the
 * test). Its authors found 0.67 to 6.93 % less than a force plate. Level, steady running only: not valid on slopes
 * (Meyer et al. 2023, Int J Sports Med 44:673-679).
 */
import { STANDARD_GRAVITY_MPS2, type StanceMetrics } from '@ambipede/shared';

export interface SineWaveStep {
  peakForceN: number;
  /** How far the centre of mass sinks in contact, m. */
  sinkingM: number;
  stiffnessNPerM: number;
}

/** @returns null unless mass and times are above zero. */
export function sineWaveStep(
  massKg: number,
  contactS: number,
  flightS: number,
  gravityMps2: number = STANDARD_GRAVITY_MPS2,
): SineWaveStep | null {
  if (!(massKg > 0 && contactS > 0 && flightS > 0)) return null;
  const peakForceN = massKg * gravityMps2 * (Math.PI / 2) * (flightS / contactS + 1);
  const sinkingM = (peakForceN * contactS ** 2) / (massKg * Math.PI ** 2) - (gravityMps2 * contactS ** 2) / 8;
  return { peakForceN, sinkingM, stiffnessNPerM: peakForceN / sinkingM };
}

/** The stance with its forces, where the mass is known and it belongs to steady running. */
export function withForces<T extends StanceMetrics>(stance: T, massKg: number | null | undefined): T {
  const { contactTimeS, flightTimeS, verticalOscillationM } = stance;
  // The oscillation is measured in steady strides only.
  if (massKg == null || contactTimeS === null || flightTimeS === null || verticalOscillationM === null) return stance;
  const step = sineWaveStep(massKg, contactTimeS, flightTimeS);
  return step === null
    ? stance
    : { ...stance, peakForceN: step.peakForceN, verticalStiffnessNPerM: step.stiffnessNPerM };
}
