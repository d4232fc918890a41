/**
 * Stage `contacts`: initial contacts and toe-offs from the movement of the pelvis, walking and running told apart step
 * by step from the presence of flight. Method, figures and limits: docs/algorithms/contacts.md.
 */
import { SAMPLE_RATE_HZ } from '@ambipede/shared';
import type { SegmentFrame } from '../motion/types.ts';
import type { ContactEvent } from './types.ts';
import { convolve, convolveBoth, gaussian, gaussianSlope, halfWidth } from './contacts/kernels.ts';
import { startFlights, stepFlights, type FlightState } from './contacts/flights.ts';
import { at, isFilledNear, startHistory, type History } from './contacts/history.ts';
import { cutOutside, startLedger, take, type Ledger } from './contacts/ledger.ts';
import {
  endBout,
  giveWayToRunning,
  startWalking,
  stepWalking,
  type WalkingContext,
  type WalkingState,
} from './contacts/walking-steps.ts';

export interface ContactParams {
  /** Standard deviations of the smoothing for running edges and for walking steps; the latter sets the look-ahead. */
  fineSigmaS: number;
  coarseSigmaS: number;
  /** Of the light smoothing with which the shape of a walking step is read. */
  shapeSigmaS: number;
  /** How far back the detectors may look. */
  historyS: number;
  /** Weight of the vertical acceleration in the walking step signal; the turn from push to brake has weight 1. */
  verticalWeight: number;
  /** Usual step frequency, which scales a slope to an amplitude. */
  stepHz: number;
}

export const CONTACTS: ContactParams = {
  fineSigmaS: 0.01,
  coarseSigmaS: 0.06,
  shapeSigmaS: 0.02,
  historyS: 2.5,
  verticalWeight: 0.5,
  stepHz: 1.8,
};

export const { min: RATE_MIN_HZ, max: RATE_MAX_HZ } = SAMPLE_RATE_HZ;
const FREE_FALL = -9.81;
const FILLED_NEAR_S = 0.02;
const FILLED_CONFIDENCE_MAX = 0.6;
/** A step that begins or ends with flight belongs to the running detector. */
const AFTER_FLIGHT_S = 0.3;

export interface ContactCoefficients {
  rateHz: number;
  fine: Float64Array;
  coarseUp: Float64Array;
  coarseForward: Float64Array;
  shape: Float64Array;
  fineHalf: number;
  coarseHalf: number;
}

export interface ContactState {
  coefficients: ContactCoefficients;
  history: History;
  flights: FlightState;
  walking: WalkingState;
  ledger: Ledger;
}

/** @param rateHz of the regular grid; throws outside RATE_MIN_HZ..RATE_MAX_HZ. */
export function startContacts(rateHz: number, params: ContactParams = CONTACTS): ContactState {
  if (!(rateHz >= RATE_MIN_HZ && rateHz <= RATE_MAX_HZ)) {
    throw new RangeError(`Contacts need ${RATE_MIN_HZ} to ${RATE_MAX_HZ} samples a second, not ${rateHz}.`);
  }
  const coefficients: ContactCoefficients = {
    rateHz,
    fine: gaussian(params.fineSigmaS, rateHz),
    coarseUp: gaussian(params.coarseSigmaS, rateHz).map((w) => w * params.verticalWeight),
    coarseForward: gaussianSlope(params.coarseSigmaS, rateHz).map((w) => -w / (2 * Math.PI * params.stepHz)),
    shape: gaussian(params.shapeSigmaS, rateHz),
    fineHalf: halfWidth(params.fineSigmaS, rateHz),
    coarseHalf: halfWidth(params.coarseSigmaS, rateHz),
  };
  return {
    coefficients,
    history: startHistory(Math.ceil(params.historyS * rateHz)),
    flights: startFlights(),
    walking: startWalking(),
    ledger: startLedger(),
  };
}

/** Takes one frame of the pelvis (the sternum's at the same instant is not needed yet). */
export function stepContacts(
  state: ContactState,
  frame: SegmentFrame,
  _sternum: SegmentFrame | null = null,
): ContactEvent[] {
  const sample: Sample = {
    up: Number.isFinite(frame.up) ? Math.max(frame.up, FREE_FALL) : 0,
    forward: Number.isFinite(frame.forward) ? frame.forward : 0,
    tilt: frame.forwardTilt,
    filled: frame.filled ? 1 : 0,
  };
  if (frame.fresh) breakOff(state);
  if (state.history.count === 0) begin(state, frame.tS, sample);
  look(state, frame.tS, sample);
  cutOutside(state.ledger, state.history.startS, Infinity);
  doubtFilled(state);
  return take(state.ledger);
}

/** At the end of a recording: what is still undecided is decided. */
export function flushContacts(state: ContactState): ContactEvent[] {
  breakOff(state);
  return take(state.ledger);
}

interface Sample {
  up: number;
  forward: number;
  tilt: number;
  filled: number;
}

/** The first sample is held back in time, so that the smoothing settles before it. */
function begin(state: ContactState, tS: number, sample: Sample): void {
  state.history.startS = tS;
  const { coarseHalf, rateHz } = state.coefficients;
  for (let i = coarseHalf; i > 0; i -= 1) look(state, tS - i / rateHz, sample);
}

/** The samples end here: nothing reaches across. The last one is held so that the smoothing comes up to it. */
function breakOff(state: ContactState): void {
  const { history, coefficients } = state;
  if (history.count === 0) return;
  const newest = history.count - 1;
  const endS = history.newestS;
  const last: Sample = {
    up: at(history.up, newest),
    forward: at(history.forward, newest),
    tilt: at(history.tilt, newest),
    filled: 0,
  };
  for (let i = 0; i < coefficients.coarseHalf; i += 1) look(state, history.newestS + 1 / coefficients.rateHz, last);
  endBout(state.walking, walkingContext(state));
  cutOutside(state.ledger, history.startS, endS);
  doubtFilled(state);
  state.flights = startFlights();
  history.count = 0;
}

function look(state: ContactState, tS: number, sample: Sample): void {
  const { coefficients, history, flights, walking, ledger } = state;
  const { rateHz, fineHalf, coarseHalf } = coefficients;
  push(history, tS, sample);

  const fineAt = history.count - 1 - fineHalf;
  if (fineAt >= fineHalf) {
    history.fineUp[fineAt % history.fineUp.length] = convolve(history.up, fineAt, coefficients.fine);
    stepFlights(flights, history, fineAt, rateHz, walking.confirmed, ledger);
    if (!Number.isNaN(flights.beganS)) {
      giveWayToRunning(walking, flights.beganS, walkingContext(state));
      flights.beganS = NaN;
    }
  }
  const stepAt = history.count - 1 - coarseHalf;
  if (stepAt >= coarseHalf) {
    const { coarseUp, coarseForward } = coefficients;
    history.step[stepAt % history.step.length] = convolveBoth(
      history.up,
      coarseUp,
      history.forward,
      coarseForward,
      stepAt,
    );
    if (stepAt >= coarseHalf + 2) {
      stepWalking(walking, walkingContext(state), stepAt - 1, (peakS) => peakS - flights.lastFlightS < AFTER_FLIGHT_S);
    }
  }
}

/** An event in or beside interpolated samples is less sure than its shape says. */
function doubtFilled(state: ContactState): void {
  for (const event of state.ledger.out) {
    const isDoubtful = isFilledNear(state.history, event.tS, FILLED_NEAR_S, state.coefficients.rateHz);
    if (isDoubtful) event.confidence = Math.min(event.confidence, FILLED_CONFIDENCE_MAX);
  }
}

function push(history: History, tS: number, sample: Sample): void {
  const i = history.count % history.up.length;
  history.up[i] = sample.up;
  history.forward[i] = sample.forward;
  history.tilt[i] = sample.tilt;
  history.filled[i] = sample.filled;
  history.newestS = tS;
  history.count += 1;
}

function walkingContext(state: ContactState): WalkingContext {
  const { history, coefficients, ledger } = state;
  return { history, rateHz: coefficients.rateHz, shapeKernel: coefficients.shape, ledger };
}
