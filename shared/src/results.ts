/** The result of analysing one recording or trial. Keys are fixed (DESIGN 4); more may be added. */
import type { Place, SideOrUnknown } from './body.ts';
import type { StanceMetricKey } from './metrics.ts';
import type { TaskSummary } from './tasks.ts';
import type { Waveforms } from './waveforms.ts';

export type ContactType = 'initial_contact' | 'toe_off';

export interface Contact {
  /** Seconds of the pelvis clock. */
  t: number;
  side: SideOrUnknown;
  type: ContactType;
  /** 0..1: that this event happened, and on this side. */
  confidence: number;
}

/** Values of one stance. A metric that could not be measured is null, never 0. */
export type StanceMetrics = Record<StanceMetricKey, number | null>;

export interface Stance extends StanceMetrics {
  /** Stable within one analysis: live corrections keep the id and raise the revision. */
  id: number;
  revision: number;
  side: SideOrUnknown;
  /** Seconds of the pelvis clock. */
  initialContact: number;
  toeOff: number;
  /** Posterior probability that `side` is right, 0..1. */
  sidePosterior: number;
  gait: 'walk' | 'run';
}

/** Why a stance is not among the kept ones. */
export type LostReason = 'gap' | 'side uncertain' | 'incomplete';

export interface SideSummary {
  n: number;
  mean: number | null;
  sd: number | null;
}

/** `difference` is left minus right in the metric's own unit. */
export interface MetricAsymmetry {
  left: SideSummary;
  right: SideSummary;
  difference: number | null;
  ci95: [number, number] | null;
  /** Stances still missing before anything may be concluded; 0 when there are enough. */
  missingStances: { left: number; right: number };
  /** `could be placement`: more than scatter, yet no more than sensors on skin, and the way they sit, could make of it. */
  verdict: 'more than scatter' | 'could be placement' | 'not more than scatter' | 'too few stances' | 'not measured';
  /** Differences up to this could be the sensors' own (95 %), in the metric's unit. */
  placementUncertainty?: number;
}

/** How well a sensor's seat on the body is known (BIOMECHANICS 2). */
export interface MountingReport {
  source: 'lead-in' | 'reference stand and movement' | 'movement' | 'none';
  /** Sensor-to-segment rotation, w x y z; null when unknown. */
  quaternion: [number, number, number, number] | null;
  /** Standard uncertainty of the frontal zero in degrees. */
  frontalUncertaintyDeg: number | null;
  /** Which of the sensor's own axes point up and forwards, in words. */
  seat?: string;
  /** Plain sentences for the coach: what is weak and what to do. */
  remarks: string[];
  details: Record<string, number>;
}

export interface AngleSeries {
  /** Seconds of the pelvis clock. */
  t: number[];
  pelvicObliquityDeg: (number | null)[];
  trunkLateralTiltDeg: (number | null)[];
  pelvicTiltDeg: (number | null)[];
  trunkForwardTiltDeg: (number | null)[];
  separationDeg: (number | null)[];
}

export interface AnalysisQuality {
  gaps: number;
  samplesFilled: number;
  stancesLost: number;
  stancesLostBy: Partial<Record<LostReason, number>>;
  mounting: Partial<Record<Place, MountingReport>>;
  /** Seconds at the start during which the orientation filter was still settling. */
  settling: number;
  /** Plain sentences: what this recording cannot tell, and why. */
  remarks: string[];
}

export interface AnalysisResult {
  version: string;
  task: string;
  clock: { sternumOffsetS: number; sternumSkewPpm: number };
  angles: AngleSeries;
  contacts: Contact[];
  stances: Stance[];
  asymmetry: Partial<Record<StanceMetricKey, MetricAsymmetry>>;
  waveforms: Waveforms;
  taskSummary: TaskSummary;
  quality: AnalysisQuality;
}
