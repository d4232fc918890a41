/**
 * What a sensor's seat on the body is known from so far: samples of reference stands and bows, and the movement itself.
 * Live and final analysis fill it alike and ask it for the best mounting that it can give.
 */
import { axesOf, type Axes } from './axes-agree.ts';
import type { Mark } from './types.ts';
import { gravityOfStand, mountingFromLeadIn, type Mounting } from './mounting-lead-in.ts';
import { mountingFromMovement, startMovement, stepMovement, type MovementState } from './mounting-movement.ts';
import { addPose, posesWithin, startTrack, timeAt, trackOf, type PoseTrack } from './pose-track.ts';
import type { FusedSample } from './types.ts';

export interface CalibrationState {
  readonly rateHz: number;
  stand: PoseTrack;
  bows: PoseTrack;
  movement: MovementState;
  /** What the bows say of the sensor's axes. */
  axes: Axes;
  /** What the last lead-in lacked, in plain words. */
  problem: string | null;
}

/** @param leadInRateHz rate of the samples given to `addLeadIn`; @param rateHz rate of those given to `stepCalibration`; @param memoryS how long locomotion counts. */
export function startCalibration(leadInRateHz: number, rateHz: number, memoryS: number): CalibrationState {
  return {
    rateHz: leadInRateHz,
    stand: startTrack(0),
    bows: startTrack(0),
    movement: startMovement(rateHz, memoryS),
    axes: 'cannot tell',
    problem: null,
  };
}

/** Every sample of locomotion tells something about the direction of travel. The sample is not kept: callers use it again. */
export function stepCalibration(state: CalibrationState, sample: FusedSample): void {
  stepMovement(state.movement, sample);
}

/** Bows may be marked one by one; bows marked this much later are a repeat and replace the earlier ones, s. */
export const BOW_REPEAT_AFTER_S = 10;

/** The samples within a lead-in step that has ended, at `rateHz`. A repeated step replaces what it repeats. */
export function addLeadIn(state: CalibrationState, kind: string, samples: readonly FusedSample[]): void {
  if (kind === 'reference_stand') state.stand = trackOf(samples);
  if (kind !== 'forward_bow' || samples.length === 0) return;
  const { bows } = state;
  const isRepeat = bows.length > 0 && samples[0]!.tS - timeAt(bows, bows.length - 1) > BOW_REPEAT_AFTER_S;
  if (isRepeat) state.bows = trackOf(samples);
  else for (const sample of samples) addPose(bows, sample);
  state.axes = axesOf(posesWithin(state.bows), state.rateHz);
}

export function isLeadIn(mark: Mark): boolean {
  return mark.kind === 'reference_stand' || mark.kind === 'forward_bow';
}

/** With a sensor like this every left would be called right, with or without a lead-in. */
const MIRRORED =
  'In the bows this sensor turned the other way round than it tilted: its axes are those of a mirror, and left would be taken for right. Nothing is measured with it. Repeat the bows; if it says so again, use another sensor, and tell whoever makes it that two axes are swapped or a sign is wrong.';
const AT_ODDS =
  'In the bows the turning of this sensor does not fit how it tilted: repeat three slow, deep bows. If it says so again, its axes or the scale of its turning rates are wrong: use another sensor.';

/** Lead-in before movement; null while neither is enough, and with a sensor that is a mirror. */
export function bestMounting(state: CalibrationState): Mounting | null {
  if (state.axes === 'mirrored') {
    state.problem = MIRRORED;
    return null;
  }
  if (state.stand.length > 0 || state.bows.length > 0) {
    const { mounting, problem } = mountingFromLeadIn(posesWithin(state.stand), posesWithin(state.bows), state.rateHz);
    state.problem = state.bows.length > 0 ? problem : null;
    if (mounting !== null) {
      if (state.axes === 'at odds') mounting.report.remarks.unshift(AT_ODDS);
      return mounting;
    }
  }
  const moved = mountingFromMovement(state.movement, gravityOfStand(posesWithin(state.stand), state.rateHz));
  if (moved !== null && state.problem !== null) moved.report.remarks.unshift(state.problem);
  return moved;
}
