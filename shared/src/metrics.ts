/**
 * The catalogue of stance metrics: what each is called, its unit, and what may be concluded from it.
 * `scale` and `zero` follow BIOMECHANICS 5: percent indices are allowed for ratio-scale metrics only, and an
 * offset-sensitive metric carries the uncertainty of how the sensors were put on.
 */
export interface MetricInfo {
  /** Key of the value in a stance. */
  key: StanceMetricKey;
  /** Name on screen. */
  label: string;
  unit: 's' | 'deg' | '1' | 'm' | 'g' | 'deg/s';
  scale: 'ratio' | 'interval';
  zero: 'offset-sensitive' | 'offset-free' | 'not applicable';
  /** Decimals on screen. */
  decimals: number;
  /** One sentence for a person who is not a biomechanist. */
  meaning: string;
}

export const STANCE_METRIC_KEYS = [
  'contactTimeS',
  'flightTimeS',
  'stepTimeS',
  'dutyFactor',
  'swingSideDropDeg',
  'swingSideLiftDeg',
  'obliquityAtContactDeg',
  'obliquityExcursionDeg',
  'leanToStanceMeanDeg',
  'leanToStancePeakDeg',
  'trunkLeanExcursionDeg',
  'sideBendExcursionDeg',
  'separationRangeDeg',
  'pelvisPeakVerticalAccelerationG',
  'sternumPeakVerticalAccelerationG',
  'peakTransverseRateDegPerS',
] as const;
export type StanceMetricKey = (typeof STANCE_METRIC_KEYS)[number];

export const METRICS: Record<StanceMetricKey, MetricInfo> = {
  contactTimeS: {
    key: 'contactTimeS',
    label: 'Contact time',
    unit: 's',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 3,
    meaning: 'How long the foot stays on the ground.',
  },
  flightTimeS: {
    key: 'flightTimeS',
    label: 'Flight time after it',
    unit: 's',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 3,
    meaning: 'How long both feet are off the ground after this stance.',
  },
  stepTimeS: {
    key: 'stepTimeS',
    label: 'Step time',
    unit: 's',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 3,
    meaning: 'From this foot landing to the other foot landing.',
  },
  dutyFactor: {
    key: 'dutyFactor',
    label: 'Duty factor',
    unit: '1',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 3,
    meaning: 'Share of the stride that this foot is on the ground.',
  },
  swingSideDropDeg: {
    key: 'swingSideDropDeg',
    label: 'Swing side drop',
    unit: 'deg',
    scale: 'interval',
    zero: 'offset-sensitive',
    decimals: 1,
    meaning: 'How far the free side of the pelvis sinks below level during the stance.',
  },
  swingSideLiftDeg: {
    key: 'swingSideLiftDeg',
    label: 'Swing side lift',
    unit: 'deg',
    scale: 'interval',
    zero: 'offset-sensitive',
    decimals: 1,
    meaning: 'How far the free side of the pelvis rises above level during the stance.',
  },
  obliquityAtContactDeg: {
    key: 'obliquityAtContactDeg',
    label: 'Swing side height at contact',
    unit: 'deg',
    scale: 'interval',
    zero: 'offset-sensitive',
    decimals: 1,
    meaning: 'Pelvic obliquity as the foot lands, positive with the free side up.',
  },
  obliquityExcursionDeg: {
    key: 'obliquityExcursionDeg',
    label: 'Obliquity excursion',
    unit: 'deg',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 1,
    meaning: 'Whole range of pelvic obliquity within the stance.',
  },
  leanToStanceMeanDeg: {
    key: 'leanToStanceMeanDeg',
    label: 'Lean to stance, mean',
    unit: 'deg',
    scale: 'interval',
    zero: 'offset-sensitive',
    decimals: 1,
    meaning: 'How far the trunk leans over the standing foot, averaged over the stance.',
  },
  leanToStancePeakDeg: {
    key: 'leanToStancePeakDeg',
    label: 'Lean to stance, largest',
    unit: 'deg',
    scale: 'interval',
    zero: 'offset-sensitive',
    decimals: 1,
    meaning: 'The furthest the trunk leans over the standing foot.',
  },
  trunkLeanExcursionDeg: {
    key: 'trunkLeanExcursionDeg',
    label: 'Trunk lean excursion',
    unit: 'deg',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 1,
    meaning: 'Whole range of trunk lateral tilt within the stance.',
  },
  sideBendExcursionDeg: {
    key: 'sideBendExcursionDeg',
    label: 'Side-bend excursion',
    unit: 'deg',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 1,
    meaning: 'Range of the trunk bending sideways against the pelvis within the stance.',
  },
  separationRangeDeg: {
    key: 'separationRangeDeg',
    label: 'Separation range',
    unit: 'deg',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 1,
    meaning: 'Range of the chest turning against the pelvis within the stance.',
  },
  pelvisPeakVerticalAccelerationG: {
    key: 'pelvisPeakVerticalAccelerationG',
    label: 'Pelvis peak vertical acceleration',
    unit: 'g',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 2,
    meaning: 'Largest upward acceleration of the pelvis in the stance, gravity removed.',
  },
  sternumPeakVerticalAccelerationG: {
    key: 'sternumPeakVerticalAccelerationG',
    label: 'Sternum peak vertical acceleration',
    unit: 'g',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 2,
    meaning: 'Largest upward acceleration of the sternum in the stance, gravity removed.',
  },
  peakTransverseRateDegPerS: {
    key: 'peakTransverseRateDegPerS',
    label: 'Peak turning rate of the pelvis',
    unit: 'deg/s',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 0,
    meaning: 'Fastest rotation of the pelvis about the vertical in the stance.',
  },
};
