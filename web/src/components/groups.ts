/** The order and grouping of the metrics on screen. */
import type { StanceMetricKey } from '@ambipede/shared';
import type { TEXTS } from '../texts.ts';

export const METRIC_GROUPS: readonly { name: keyof typeof TEXTS.groups; keys: readonly StanceMetricKey[] }[] = [
  {
    name: 'pelvis',
    keys: [
      'swingSideDropDeg',
      'swingSideLiftDeg',
      'obliquityAtContactDeg',
      'obliquityExcursionDeg',
      'verticalOscillationM',
      'lateralSwayM',
    ],
  },
  {
    name: 'trunk',
    keys: [
      'leanToStanceMeanDeg',
      'leanToStancePeakDeg',
      'trunkLeanExcursionDeg',
      'sideBendExcursionDeg',
      'swingSideClosingDeg',
      'separationRangeDeg',
      'chestLeadDeg',
    ],
  },
  { name: 'time', keys: ['contactTimeS', 'flightTimeS', 'stepTimeS', 'dutyFactor'] },
  {
    name: 'load',
    keys: [
      'pelvisPeakVerticalAccelerationG',
      'sternumPeakVerticalAccelerationG',
      'peakAttenuationDb',
      'peakTransverseRateDegPerS',
      'peakForceN',
      'verticalStiffnessNPerM',
    ],
  },
];
