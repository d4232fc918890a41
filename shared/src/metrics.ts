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
  unit: 's' | 'deg' | '1' | 'm' | 'g' | 'deg/s' | 'dB' | 'N' | 'N/m';
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
  'swingSideClosingDeg',
  'separationRangeDeg',
  'chestLeadDeg',
  'verticalOscillationM',
  'lateralSwayM',
  'pelvisPeakVerticalAccelerationG',
  'sternumPeakVerticalAccelerationG',
  'peakAttenuationDb',
  'peakTransverseRateDegPerS',
  'peakForceN',
  'verticalStiffnessNPerM',
] as const;
export type StanceMetricKey = (typeof STANCE_METRIC_KEYS)[number];

const CATALOGUE: Record<StanceMetricKey, Omit<MetricInfo, 'key'>> = {
  contactTimeS: {
    label: 'Contact time',
    unit: 's',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 3,
    meaning: 'How long the foot stays on the ground.',
  },
  flightTimeS: {
    label: 'Flight time after it',
    unit: 's',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 3,
    meaning: 'How long both feet are off the ground after this stance.',
  },
  stepTimeS: {
    label: 'Step time',
    unit: 's',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 3,
    meaning: 'From this foot landing to the other foot landing.',
  },
  dutyFactor: {
    label: 'Duty factor',
    unit: '1',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 3,
    meaning: 'Share of the stride that this foot is on the ground.',
  },
  swingSideDropDeg: {
    label: 'Swing side drop',
    unit: 'deg',
    scale: 'interval',
    zero: 'offset-sensitive',
    decimals: 1,
    meaning: 'How far the free side of the pelvis sinks below level during the stance.',
  },
  swingSideLiftDeg: {
    label: 'Swing side lift',
    unit: 'deg',
    scale: 'interval',
    zero: 'offset-sensitive',
    decimals: 1,
    meaning: 'How far the free side of the pelvis rises above level during the stance.',
  },
  obliquityAtContactDeg: {
    label: 'Swing side height at contact',
    unit: 'deg',
    scale: 'interval',
    zero: 'offset-sensitive',
    decimals: 1,
    meaning: 'Pelvic obliquity as the foot lands, positive with the free side up.',
  },
  obliquityExcursionDeg: {
    label: 'Obliquity excursion',
    unit: 'deg',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 1,
    meaning: 'Whole range of pelvic obliquity within the stance.',
  },
  leanToStanceMeanDeg: {
    label: 'Lean to stance, mean',
    unit: 'deg',
    scale: 'interval',
    zero: 'offset-sensitive',
    decimals: 1,
    meaning: 'How far the trunk leans over the standing foot, averaged over the stance.',
  },
  leanToStancePeakDeg: {
    label: 'Lean to stance, largest',
    unit: 'deg',
    scale: 'interval',
    zero: 'offset-sensitive',
    decimals: 1,
    meaning: 'The furthest the trunk leans over the standing foot.',
  },
  trunkLeanExcursionDeg: {
    label: 'Trunk lean excursion',
    unit: 'deg',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 1,
    meaning: 'Whole range of trunk lateral tilt within the stance.',
  },
  sideBendExcursionDeg: {
    label: 'Side-bend excursion',
    unit: 'deg',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 1,
    meaning: 'Range of the trunk bending sideways against the pelvis within the stance.',
  },
  swingSideClosingDeg: {
    label: 'Hip-to-shoulder closing',
    unit: 'deg',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 1,
    meaning: 'How far hip and shoulder of the free side come together in the stance, from where they were at contact.',
  },
  separationRangeDeg: {
    label: 'Separation range',
    unit: 'deg',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 1,
    meaning: 'Range of the chest turning against the pelvis within the stance.',
  },
  chestLeadDeg: {
    label: 'Chest lead, free side',
    unit: 'deg',
    scale: 'interval',
    zero: 'offset-free',
    decimals: 1,
    meaning:
      'How far the free side of the chest is ahead of the pelvis in this stance, against the mean of the whole stride.',
  },
  verticalOscillationM: {
    label: 'Vertical oscillation',
    unit: 'm',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 3,
    meaning: 'How far the pelvis moves up and down within this step, in steady walking or running.',
  },
  lateralSwayM: {
    label: 'Sideways sway',
    unit: 'm',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 3,
    meaning: 'How far the pelvis moves sideways within this step, in steady walking or running.',
  },
  pelvisPeakVerticalAccelerationG: {
    label: 'Pelvis peak vertical acceleration',
    unit: 'g',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 2,
    meaning: 'Largest upward acceleration of the pelvis in the stance, gravity removed.',
  },
  sternumPeakVerticalAccelerationG: {
    label: 'Sternum peak vertical acceleration',
    unit: 'g',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 2,
    meaning: 'Largest upward acceleration of the sternum in the stance, gravity removed.',
  },
  peakAttenuationDb: {
    label: 'Peak attenuation',
    unit: 'dB',
    scale: 'interval',
    zero: 'not applicable',
    decimals: 1,
    meaning:
      'How much smaller the largest upward acceleration is at the sternum than at the pelvis: 6 dB is half, below 0 larger.',
  },
  peakTransverseRateDegPerS: {
    label: 'Peak turning rate of the pelvis',
    unit: 'deg/s',
    scale: 'ratio',
    zero: 'offset-free',
    decimals: 0,
    meaning: 'Fastest rotation of the pelvis about the vertical in the stance.',
  },
  peakForceN: {
    label: 'Peak force, estimated',
    unit: 'N',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 0,
    meaning: 'Largest vertical ground force as the sine-wave method estimates it from times and body mass.',
  },
  verticalStiffnessNPerM: {
    label: 'Vertical stiffness, estimated',
    unit: 'N/m',
    scale: 'ratio',
    zero: 'not applicable',
    decimals: 0,
    meaning: 'Peak force over the sinking of the body in contact, by the sine-wave method.',
  },
};

export const METRICS = Object.fromEntries(STANCE_METRIC_KEYS.map((key) => [key, { key, ...CATALOGUE[key] }])) as Record<
  StanceMetricKey,
  MetricInfo
>;
