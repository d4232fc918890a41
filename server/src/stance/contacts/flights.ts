/**
 * Running: contacts from flight. In flight the pelvis falls freely, so its vertical acceleration is near -g; on the
 * ground it is above. Each flight gives the toe-off that begins it and the initial contact that ends it, whatever the
 * speed, so a run-up needs no cadence.
 *
 *   ground --(below `airBelow`)--> air --(above `groundAbove`)--> landing --(push seen)--> ground
 */
import type { ContactEvent } from '../types.ts';
import { contactAfterFlight, pushBetween, toeOffBefore } from './flight-edges.ts';
import { gradeFlight, FLIGHTS, type Grade, type Surroundings } from './flight-grade.ts';
import { at, oldest, timeOf, type History } from './history.ts';
import { publish, revise, type Ledger } from './ledger.ts';

/** A flight that was too weak to count by itself, in case running follows. */
interface WeakFlight {
  toeOffS: number | null;
  contactS: number;
}

export interface FlightState {
  phase: 'ground' | 'air' | 'landing';
  /** Sample numbers where the present flight began and seemed to end. */
  airFrom: number;
  airTo: number;
  lowest: number;
  /** Push before the flight, m/s^2. */
  push: number;
  /** Toe-off of the present flight: not looked for yet, not to be found, or its time. */
  toeOffS: number | null;
  toeOffDone: boolean;
  toeOff: ContactEvent | null;
  /** Last landing: its event when published, its sample number and time. */
  contact: ContactEvent | null;
  contactFrom: number;
  contactS: number;
  /** From the landing before to the last one, s. */
  stepS: number;
  weak: WeakFlight[];
  /** Time of the newest part of a flight that counts. */
  lastFlightS: number;
  /** Where running as published began; NaN when nothing new. Taken by the caller. */
  beganS: number;
  contactTimeS: number;
}

const CONTACT_TIME_USUAL_S = 0.22;
const CONTACT_TIME_S_MIN = 0.1;
const CONTACT_TIME_S_MAX = 0.4;

export function startFlights(): FlightState {
  return {
    phase: 'ground',
    airFrom: -1,
    airTo: -1,
    lowest: 0,
    push: 0,
    toeOffS: null,
    toeOffDone: false,
    toeOff: null,
    contact: null,
    contactFrom: -1,
    contactS: -Infinity,
    stepS: NaN,
    weak: [],
    lastFlightS: -Infinity,
    beganS: NaN,
    contactTimeS: CONTACT_TIME_USUAL_S,
  };
}

/** Looks at sample number `n` of the finely smoothed vertical acceleration. */
export function stepFlights(
  state: FlightState,
  history: History,
  n: number,
  rateHz: number,
  isWalking: boolean,
  ledger: Ledger,
): void {
  const x = at(history.fineUp, n);
  if (state.phase === 'ground') {
    if (x < FLIGHTS.airBelow) enterAir(state, history, n, rateHz);
    return;
  }
  state.lowest = Math.min(state.lowest, x);
  const nowS = timeOf(history, n, rateHz);
  const around = nowS - state.lastFlightS < FLIGHTS.runningS ? 'running' : isWalking ? 'walking' : 'unknown';
  if (state.phase === 'air') fly(state, history, x, n, rateHz, around, ledger);
  else land(state, history, x, n, rateHz, around, ledger);
}

function enterAir(state: FlightState, history: History, n: number, rateHz: number): void {
  state.phase = 'air';
  state.airFrom = n;
  state.lowest = 0;
  state.push = pushBetween(history, stanceStart(state, history, n, rateHz), n);
  state.toeOff = null;
  state.toeOffS = null;
  state.toeOffDone = false;
}

function knowsContact(state: FlightState, n: number, rateHz: number): boolean {
  return state.contactFrom >= 0 && n - state.contactFrom < FLIGHTS.stanceMaxS * rateHz;
}

/** From the last landing, or a usual contact time back where there was none. */
function stanceStart(state: FlightState, history: History, n: number, rateHz: number): number {
  const usual = n - Math.round(CONTACT_TIME_USUAL_S * 1.2 * rateHz);
  return Math.max(oldest(history), knowsContact(state, n, rateHz) ? state.contactFrom : usual);
}

function fly(
  state: FlightState,
  history: History,
  x: number,
  n: number,
  rateHz: number,
  around: Surroundings,
  ledger: Ledger,
): void {
  const hasFallen = x < FLIGHTS.fallenShare * (state.push - FLIGHTS.freeFall) + FLIGHTS.freeFall;
  const tooLong = n - state.airFrom > FLIGHTS.fallMaxS * rateHz;
  if (!state.toeOffDone && (hasFallen || tooLong)) findToeOff(state, history, n, rateHz);
  // A flight known by the push before it need not wait for its end.
  if (state.toeOffDone && state.toeOff === null && gradeFlight(state.push, state.lowest, around) === 'sure') {
    publishToeOff(state, ledger);
    state.lastFlightS = timeOf(history, n, rateHz);
  }
  if (x > FLIGHTS.groundAbove) {
    state.phase = 'landing';
    state.airTo = n;
  } else if (n - state.airFrom > FLIGHTS.flightMaxS * rateHz) leaveAir(state);
}

function findToeOff(state: FlightState, history: History, n: number, rateHz: number): void {
  state.toeOffDone = true;
  if (state.push < FLIGHTS.weakPushMin) return;
  const nowS = timeOf(history, n, rateHz);
  const contact = knowsContact(state, state.airFrom, rateHz) ? n - (nowS - state.contactS) * rateHz : null;
  const usual = state.contactTimeS * rateHz;
  const index = toeOffBefore(history, state.airFrom, n, state.push, contact, usual, state.stepS * rateHz);
  if (index !== null) state.toeOffS = timeOf(history, index, rateHz);
  if (state.contact !== null && contact !== null) lookAgainAtContact(state, history, n, rateHz);
}

/** The whole push of the stance is known now: a better look at its initial contact, put out with the toe-off. */
function lookAgainAtContact(state: FlightState, history: History, n: number, rateHz: number): void {
  const index = contactAfterFlight(history, state.contactFrom, state.push, state.contactTimeS * rateHz);
  if (index !== null) state.contactS = timeOf(history, index, rateHz);
  if (state.toeOffS === null) return;
  const seconds = Math.min(CONTACT_TIME_S_MAX, Math.max(CONTACT_TIME_S_MIN, state.toeOffS - state.contactS));
  state.contactTimeS += (seconds - state.contactTimeS) / 2;
}

function publishToeOff(state: FlightState, ledger: Ledger): void {
  if (state.contact !== null) revise(ledger, state.contact, state.contactS, state.contact.confidence);
  if (state.toeOffS === null || state.toeOff !== null) return;
  state.toeOff = publish(ledger, 'toe_off', 'run', state.toeOffS, state.contact === null ? 0.85 : 0.95);
}

function land(
  state: FlightState,
  history: History,
  x: number,
  n: number,
  rateHz: number,
  around: Surroundings,
  ledger: Ledger,
): void {
  if (x < FLIGHTS.airBelow) {
    // A bump in mid-air, not a landing.
    state.phase = 'air';
    return;
  }
  const isLate = n - state.airTo > FLIGHTS.landingMaxS * rateHz;
  if (x < FLIGHTS.landingAbove && !isLate) return;
  const push = Math.max(state.push, pushBetween(history, state.airTo, n));
  const isLong = state.airTo - state.airFrom >= FLIGHTS.flightMinS * rateHz;
  const grade: Grade = isLong ? gradeFlight(push, state.lowest, around) : 'none';
  if (grade !== 'sure' && !isLate) return;
  const index = grade === 'none' ? null : contactAfterFlight(history, n, push, state.contactTimeS * rateHz);
  if (index === null) {
    leaveAir(state);
    return;
  }
  if (!state.toeOffDone) findToeOff(state, history, n, rateHz);
  const contactS = timeOf(history, index, rateHz);
  if (state.toeOffS !== null && state.toeOffS > contactS - FLIGHTS.flightMinS) {
    // Both edges of a very short flight are extrapolated: they must not cross.
    state.toeOffS = contactS - FLIGHTS.flightMinS;
    if (state.toeOff !== null) revise(ledger, state.toeOff, state.toeOffS, state.toeOff.confidence);
  }
  if (grade === 'sure') publishFlight(state, contactS, timeOf(history, n, rateHz), ledger);
  else {
    state.weak.push({ toeOffS: state.toeOffS, contactS });
    if (state.weak.length > FLIGHTS.weakMax) state.weak.shift();
    state.contact = null;
  }
  state.phase = 'ground';
  state.contactFrom = Math.max(0, Math.floor(index));
  state.stepS = contactS - state.contactS;
  state.contactS = contactS;
}

/** Puts out the flight, and weak ones just before it that it explains. */
function publishFlight(state: FlightState, contactS: number, nowS: number, ledger: Ledger): void {
  const flightS = state.toeOffS ?? contactS;
  let from = flightS;
  const chain: WeakFlight[] = [];
  for (const weak of state.weak.reverse()) {
    if (from - weak.contactS > FLIGHTS.stanceMaxS) break;
    chain.unshift(weak);
    from = weak.toeOffS ?? weak.contactS;
  }
  state.weak = [];
  for (const weak of chain) {
    if (weak.toeOffS !== null) publish(ledger, 'toe_off', 'run', weak.toeOffS, 0.7);
    state.contact = publish(ledger, 'initial_contact', 'run', weak.contactS, 0.7);
  }
  publishToeOff(state, ledger);
  state.contact = publish(ledger, 'initial_contact', 'run', contactS, state.toeOff === null ? 0.8 : 0.95);
  state.lastFlightS = nowS;
  state.beganS = from;
}

function leaveAir(state: FlightState): void {
  state.phase = 'ground';
  state.contact = null;
  state.contactFrom = -1;
}
