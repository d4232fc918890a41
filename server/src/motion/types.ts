/** What flows between the stages from a sensor's samples to the angles of the body. SI and radians. */
import type { Place } from '@ambipede/shared';

/** One sample of one sensor in its own axes. A component the sensor does not have is NaN. */
export interface ImuSample {
  /** Seconds; for a live stream and its re-analysis, seconds of the trial's time base. */
  tS: number;
  /** Specific force in m/s^2: reads +g upwards at rest. */
  ax: number;
  ay: number;
  az: number;
  /** Angular velocity in rad/s. */
  gx: number;
  gy: number;
  gz: number;
}

/** A sample on the stream's regular grid, as made by the regularise stage. */
export interface GridSample extends ImuSample {
  /** Interpolated across a short gap: counts for continuity, not as evidence. */
  filled: boolean;
  /** First sample after a gap too long to fill (or the first of all): whatever was running stops here. */
  fresh: boolean;
}

/** Unit quaternion w x y z as four numbers, rotating from the named source frame to the named target frame. */
export interface Quaternion {
  w: number;
  x: number;
  y: number;
  z: number;
}

/** A sample with the sensor's orientation: the output of the fuse stage. */
export interface FusedSample extends GridSample {
  /** Sensor to earth; earth is z up with an arbitrary heading. */
  orientation: Quaternion;
  /** Gyroscope bias already taken off, rad/s, sensor axes. */
  biasX: number;
  biasY: number;
  biasZ: number;
  /** The sensor was still around this sample. */
  still: boolean;
  /** One standard deviation of the tilt estimate in rad. */
  tiltSigma: number;
}

/**
 * A segment (pelvis or thorax) at one instant, in a frame that follows its heading: x forward and horizontal,
 * y up, z to the right and horizontal (ISB order). Output of the mount stage.
 */
export interface SegmentFrame {
  tS: number;
  filled: boolean;
  fresh: boolean;
  still: boolean;
  /** Acceleration without gravity, m/s^2. */
  forward: number;
  up: number;
  right: number;
  /** Angular velocity about the segment's own axes, rad/s: x forward (roll, + right side down), y up (yaw, + to the left), z right (pitch, + backward). */
  rollRate: number;
  yawRate: number;
  pitchRate: number;
  /** asin of the vertical component of the segment's Z axis, rad; + right side up. NaN when not known. */
  lateralTilt: number;
  /** rad, + forward. NaN when not known. */
  forwardTilt: number;
  /** Heading in rad about the vertical, + to the left, arbitrary zero, unwrapped. NaN when not known. */
  heading: number;
  tiltSigma: number;
}

/** Pelvis with the sternum at the same instant; `sternum` is null where it is missing. Output of the pair stage. */
export interface PairedFrame {
  /** Seconds of the pelvis clock. */
  tS: number;
  pelvis: SegmentFrame;
  sternum: SegmentFrame | null;
}

/** The angles of the screen and the results file, degrees. NaN where not known. */
export interface AngleFrame {
  tS: number;
  pelvicObliquityDeg: number;
  trunkLateralTiltDeg: number;
  pelvicTiltDeg: number;
  trunkForwardTiltDeg: number;
  /** Thorax heading minus pelvis heading with its slow mean removed. */
  separationDeg: number;
}

/** A span of the session that has a meaning: part of the lead-in or a task. */
export interface Mark {
  /** `reference_stand`, `forward_bow`, or a task. */
  kind: string;
  startS: number;
  endS: number;
}

/** One sensor's samples in time order; gaps are missing samples. */
export interface RecordedStream {
  samples: ImuSample[];
  /** Nominal rate. */
  rateHz: number;
  /** What has already been added to the sensor's own time to bring it near the pelvis's clock (from acq_time). */
  acquisitionOffsetS?: number;
}

/** Everything that was recorded, of one trial with its lead-in: what the final analysis starts from. */
export interface Recording {
  task: string;
  streams: Partial<Record<Place, RecordedStream>>;
  marks: Mark[];
  /** The sensors have clocks of their own: the analysis refines how they relate from movement that both feel. */
  separateClocks: boolean;
  /** Results are for this span; what lies before serves the mounting and settles the filters. */
  spanS: [number, number];
  /** For forces only; null or absent when not known. */
  bodyMassKg?: number | null;
}
