/**
 * How large a left-right difference a worn sensor can make by itself. A conclusion needs more than that.
 *
 * Two causes: the zero of a metric measured from level (its uncertainty comes from the mounting; an error e shows as a
 * difference of 2e, BIOMECHANICS 2), and soft tissue, a sensor off the midline and the timing of contacts, which touch
 * the offset-free metrics too: under load a sensor on skin rolls the same way on both feet, which widens the swing on one
 * side and narrows it on the other.
 */
import type { StanceMetricKey } from '@ambipede/shared';

export type Gait = 'walk' | 'run';

/**
 * Standard deviation of the difference that symmetric athletes show, in the metric's unit. A default with no published
 * source: root mean square over 24 symmetric synthetic athletes a gait with realistic sensors, rounded up.
 */
export const SENSOR_SIGMA: Partial<Record<StanceMetricKey, Record<Gait, number>>> = {
  contactTimeS: { walk: 0.013, run: 0.005 },
  flightTimeS: { walk: 0.005, run: 0.005 },
  stepTimeS: { walk: 0.007, run: 0.002 },
  dutyFactor: { walk: 0.008, run: 0.007 },
  obliquityExcursionDeg: { walk: 0.2, run: 1.3 },
  trunkLeanExcursionDeg: { walk: 0.3, run: 1.4 },
  sideBendExcursionDeg: { walk: 0.3, run: 2 },
  swingSideClosingDeg: { walk: 0.5, run: 0.5 },
  separationRangeDeg: { walk: 0.5, run: 0.5 },
  chestLeadDeg: { walk: 0.2, run: 0.3 },
  verticalOscillationM: { walk: 0.0015, run: 0.004 },
  lateralSwayM: { walk: 0.0003, run: 0.0005 },
  pelvisPeakVerticalAccelerationG: { walk: 0.01, run: 0.09 },
  sternumPeakVerticalAccelerationG: { walk: 0.01, run: 0.03 },
  peakAttenuationDb: { walk: 0.15, run: 0.5 },
  peakTransverseRateDegPerS: { walk: 1, run: 4 },
  peakForceN: { walk: 30, run: 30 },
  verticalStiffnessNPerM: { walk: 500, run: 500 },
};

/** Two-sided 95 % of a normal distribution. */
const WITHIN_95 = 1.96;

/**
 * Differences up to this could be the sensors' (95 %), in the metric's unit; null when nothing is known.
 *
 * @param frontalSigmaDeg standard uncertainty of the zero, for a metric measured from level; null for others
 */
export function sensorAllowance(key: StanceMetricKey, gait: Gait, frontalSigmaDeg: number | null): number | null {
  const own = SENSOR_SIGMA[key]?.[gait];
  if (own === undefined && frontalSigmaDeg === null) return null;
  return WITHIN_95 * Math.hypot(own ?? 0, 2 * (frontalSigmaDeg ?? 0));
}
