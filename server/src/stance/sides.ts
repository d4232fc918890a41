/**
 * Stage `sides`: which foot each contact belongs to, decided over the sequence of steps and not step by step (a wrong
 * side silently turns the result round). Every new step may correct the ones before it: same id, higher revision.
 * Method, figures and limits: docs/algorithms/contacts.md.
 */
import type { SideOrUnknown } from '@ambipede/shared';
import { otherSide } from '@ambipede/shared';
import type { SegmentFrame } from '../motion/types.ts';
import type { ContactEvent, SidedContact } from './types.ts';
import { continuity, posteriorOfRight, SEQUENCE } from './sides/decode.ts';
import { evidenceOf, type Evidence } from './sides/evidence.ts';
import { pushMotion, startRing, type MotionRing } from './sides/motion-ring.ts';
import { weighEvidence } from './sides/weigh.ts';

export const SIDES_PARAMS = {
  /** How far back the movement around a contact can be read. */
  memoryS: 3,
  /** Contacts that a later step can still correct; older ones are final. */
  contactsMax: 64,
  stepUsualS: 0.5,
  /** A change of the posterior smaller than this is not put out. */
  posteriorStep: 0.02,
  /** A toe-off belongs to the contact before it if that is no longer ago; else to the flight before the next contact. */
  stanceMaxS: 0.6,
  flightMaxS: 1.0,
} as const;

/** Posteriors this near to one half are no knowledge but rounding. */
const UNKNOWN_WITHIN = 1e-9;

interface Tracked {
  event: ContactEvent;
  evidence: Evidence | null;
  /** The whole step around the contact has been read. */
  isWhole: boolean;
  side: SideOrUnknown;
  posterior: number;
  bout: number;
  /** Revision last put out; -1 before the first. */
  revision: number;
  isChanged: boolean;
}

export interface SidesState {
  rateHz: number;
  ring: MotionRing;
  contacts: Tracked[];
  toeOffs: Tracked[];
  /** What the steps that left the memory say of the next one. */
  priorRight: number;
  bouts: number;
}

export function startSides(rateHz: number): SidesState {
  return {
    rateHz,
    ring: startRing(Math.ceil(SIDES_PARAMS.memoryS * rateHz)),
    contacts: [],
    toeOffs: [],
    priorRight: 0.5,
    bouts: 0,
  };
}

/** Takes a frame of the pelvis (null when there is none) and the contact events that came with it. */
export function stepSides(
  state: SidesState,
  frame: SegmentFrame | null,
  events: readonly ContactEvent[],
): SidedContact[] {
  if (frame !== null) {
    if (frame.fresh) state.ring.count = 0;
    pushMotion(state.ring, frame.tS, frame.right, frame.yawRate, frame.rollRate);
  }
  if (events.length === 0) return [];
  let isContact = false;
  for (const event of events) {
    isContact ||= event.type === 'initial_contact';
    follow(event.type === 'initial_contact' ? state.contacts : state.toeOffs, event);
  }
  return isContact ? decide(state) : putOut(state, state.contacts);
}

/** At the end of a recording: the last steps get the evidence that is there. */
export function flushSides(state: SidesState): SidedContact[] {
  return decide(state);
}

/** Keeps the list in order of time: an event may come late. */
function follow(list: Tracked[], event: ContactEvent): void {
  const known = list.find((tracked) => tracked.event.id === event.id);
  if (known !== undefined) {
    known.isWhole &&= known.event.tS === event.tS;
    known.event = event;
    known.isChanged = true;
    list.sort(byTime);
    return;
  }
  list.push({
    event,
    evidence: null,
    isWhole: false,
    side: 'unknown',
    posterior: 0.5,
    bout: 0,
    revision: -1,
    isChanged: true,
  });
  list.sort(byTime);
}

function byTime(a: Tracked, b: Tracked): number {
  return a.event.tS - b.event.tS;
}

function decide(state: SidesState): SidedContact[] {
  const contacts = state.contacts.filter((tracked) => !tracked.event.withdrawn);
  const timesS = contacts.map((tracked) => tracked.event.tS);
  const continues = continuity(timesS);
  contacts.forEach((tracked, i) => gather(state, tracked, timesS, continues, i));
  const llr = weighEvidence(
    contacts.map((tracked) => tracked.evidence),
    continues,
  );
  const { right, forward } = posteriorOfRight(llr, continues, state.priorRight);
  contacts.forEach((tracked, i) => {
    const before = i > 0 ? contacts[i - 1]! : null;
    if (before !== null && continues[i]) setBout(tracked, before.bout);
    else if (tracked.bout === 0 || tracked.bout === before?.bout) setBout(tracked, (state.bouts += 1));
    const isKnown = tracked.evidence !== null || Math.abs(right[i]! - 0.5) > UNKNOWN_WITHIN;
    const side = right[i]! >= 0.5 ? 'right' : 'left';
    setSide(tracked, isKnown ? side : 'unknown', isKnown ? Math.max(right[i]!, 1 - right[i]!) : 0.5);
  });
  const out = putOut(state, contacts);
  forget(state, contacts, continues, forward);
  return out;
}

function setBout(tracked: Tracked, bout: number): void {
  if (tracked.bout === bout) return;
  tracked.bout = bout;
  tracked.isChanged = true;
}

/** Reads the evidence again until the whole step could be seen. */
function gather(
  state: SidesState,
  tracked: Tracked,
  timesS: readonly number[],
  continues: readonly boolean[],
  i: number,
): void {
  if (tracked.isWhole) return;
  const before = continues[i] ? timesS[i]! - timesS[i - 1]! : null;
  const after = continues[i + 1] ? timesS[i + 1]! - timesS[i]! : null;
  const stepS = before !== null && after !== null ? (before + after) / 2 : (before ?? after ?? SIDES_PARAMS.stepUsualS);
  const { ring, rateHz } = state;
  const contact = ring.count - 1 - (ring.newestS - timesS[i]!) * rateHz;
  // Too long ago, or before a break in the samples: what was read then stands.
  if (contact - stepS * rateHz < ring.count - ring.right.length) tracked.isWhole = true;
  else tracked.evidence = evidenceOf(ring, contact, stepS * rateHz, tracked.event.gait) ?? tracked.evidence;
  if (after !== null && ring.newestS - timesS[i]! >= stepS) tracked.isWhole = true;
}

function setSide(tracked: Tracked, side: SideOrUnknown, posterior: number): void {
  if (tracked.side === side && Math.abs(tracked.posterior - posterior) < SIDES_PARAMS.posteriorStep) return;
  tracked.side = side;
  tracked.posterior = posterior;
  tracked.isChanged = true;
}

/** Gives the toe-offs the sides of the contacts, and puts out what has changed. */
function putOut(state: SidesState, contacts: readonly Tracked[]): SidedContact[] {
  let next = 0;
  for (const toeOff of state.toeOffs) {
    while (next < contacts.length && contacts[next]!.event.tS <= toeOff.event.tS) next += 1;
    if (!toeOff.event.withdrawn) sideOfToeOff(toeOff, contacts[next - 1], contacts[next]);
  }
  return [...emit(state.contacts), ...emit(state.toeOffs)].sort((a, b) => a.id - b.id);
}

/**
 * Walking: of the other foot than the contact before it (double support). Running: of the same foot as the contact that
 * began the stance, of the other foot than the one that ends the flight.
 */
function sideOfToeOff(toeOff: Tracked, before: Tracked | undefined, after: Tracked | undefined): void {
  const { tS, gait } = toeOff.event;
  const sinceS = before === undefined ? Infinity : tS - before.event.tS;
  const beforeFlight = gait === 'run' && after !== undefined && after.event.tS - tS < SIDES_PARAMS.flightMaxS;
  const isStance = sinceS < SIDES_PARAMS.stanceMaxS && (gait === 'walk' || before?.event.gait === 'run');
  if (before !== undefined && isStance) copySide(toeOff, before, gait === 'walk');
  else if (beforeFlight) copySide(toeOff, after, true);
  else if (before !== undefined && sinceS < SIDES_PARAMS.stanceMaxS) copySide(toeOff, before, false);
  else setSide(toeOff, 'unknown', 0.5);
}

function copySide(toeOff: Tracked, contact: Tracked, isOther: boolean): void {
  const side = contact.side === 'unknown' || !isOther ? contact.side : otherSide(contact.side);
  setSide(toeOff, side, contact.posterior);
  setBout(toeOff, contact.bout);
}

function emit(list: readonly Tracked[]): SidedContact[] {
  const out: SidedContact[] = [];
  for (const tracked of list) {
    if (!tracked.isChanged) continue;
    tracked.isChanged = false;
    tracked.revision += 1;
    const { event, revision, side, posterior, bout } = tracked;
    out.push({ ...event, revision, side, sidePosterior: posterior, bout });
  }
  return out;
}

/** Keeps the memory bounded; withdrawn events cannot come back. */
function forget(
  state: SidesState,
  contacts: readonly Tracked[],
  continues: readonly boolean[],
  forward: readonly number[],
): void {
  const excess = Math.max(0, contacts.length - SIDES_PARAMS.contactsMax);
  if (excess > 0) {
    const repeat = continues[excess] ? SEQUENCE.repeatProbability : 0.5;
    const last = forward[excess - 1]!;
    state.priorRight = repeat * last + (1 - repeat) * (1 - last);
  }
  state.contacts = contacts.slice(excess);
  state.toeOffs = state.toeOffs.filter((tracked) => !tracked.event.withdrawn).slice(-SIDES_PARAMS.contactsMax);
}
