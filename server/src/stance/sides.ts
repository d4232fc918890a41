/**
 * Stage `sides`: which foot each contact belongs to, decided over the sequence of steps and not step by step (a wrong
 * side silently turns the result round). Every new step may correct the ones before it: same id, higher revision.
 * Method, figures and limits: docs/algorithms/contacts.md.
 */
import type { SegmentFrame } from '../motion/types.ts';
import type { ContactEvent, SidedContact } from './types.ts';
import { posteriorOfRight } from './sides/decode.ts';
import { evidenceOf, turnRateAround } from './sides/evidence.ts';
import { landingsOf, linksOf, LINKS, trustIn, type Link } from './sides/links.ts';
import { pushMotion, startRing, type MotionRing } from './sides/motion-ring.ts';
import { flightsOf, giveSides } from './sides/toe-offs.ts';
import { setBout, setSide, track, type Tracked } from './sides/tracked.ts';
import { weighEvidence } from './sides/weigh.ts';
import { hasBreak } from './stance-frames.ts';

export const SIDES_PARAMS = {
  /** How far back the movement around a contact can be read. */
  memoryS: 3,
  /** Contacts that a later step can still correct; older ones are final. As many gaps are kept. */
  contactsMax: 64,
  stepUsualS: 0.5,
} as const;

/** Posteriors this near to one half are no knowledge but rounding. */
const UNKNOWN_WITHIN = 1e-9;

export interface SidesState {
  rateHz: number;
  ring: MotionRing;
  contacts: Tracked[];
  toeOffs: Tracked[];
  /** When samples came again after lost ones. */
  gapsS: number[];
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
    gapsS: [],
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
    if (frame.fresh) breakOff(state, frame.tS);
    pushMotion(state.ring, frame.tS, frame.right, frame.yawRate, frame.rollRate);
  }
  if (events.length === 0) return [];
  let isContact = false;
  for (const event of events) {
    isContact ||= event.type === 'initial_contact';
    follow(event.type === 'initial_contact' ? state.contacts : state.toeOffs, event);
  }
  return isContact ? decide(state) : putOut(state, known(state.contacts), known(state.toeOffs));
}

function breakOff(state: SidesState, tS: number): void {
  state.ring.count = 0;
  state.gapsS.push(tS);
  if (state.gapsS.length > SIDES_PARAMS.contactsMax) state.gapsS.shift();
}

/** At the end of a recording: the last steps get the evidence that is there. */
export function flushSides(state: SidesState): SidedContact[] {
  return decide(state);
}

/** Keeps the list in order of time: an event may come late. */
function follow(list: Tracked[], event: ContactEvent): void {
  const followed = list.find((tracked) => tracked.event.id === event.id);
  if (followed !== undefined) {
    followed.isWhole &&= followed.event.tS === event.tS;
    followed.event = event;
    followed.isChanged = true;
  } else list.push(track(event));
  list.sort(byTime);
}

function byTime(a: Tracked, b: Tracked): number {
  return a.event.tS - b.event.tS;
}

function known(list: readonly Tracked[]): Tracked[] {
  return list.filter((tracked) => !tracked.event.withdrawn);
}

function decide(state: SidesState): SidedContact[] {
  const contacts = known(state.contacts);
  const toeOffs = known(state.toeOffs);
  const timesS = contacts.map((tracked) => tracked.event.tS);
  const landings = landingsOf(flightsOf(contacts, toeOffs));
  const afterGap = timesS.map((tS, i) => i > 0 && hasBreak(state.gapsS, timesS[i - 1]!, tS));
  const links = linksOf({ timesS, afterGap, landings, turnRates: contacts.map((tracked) => tracked.turnRate) });
  const continues = links.map((link) => link.continues);
  contacts.forEach((tracked, i) => gather(state, tracked, timesS, continues, i));
  const evidence = weighEvidence(
    contacts.map((tracked) => tracked.evidence),
    continues,
  ).map((llr, i) => llr * trustIn(contacts[i]!.turnRate) * (landings[i] ? 1 - LINKS.bothFeetProbability : 1));
  const { right, forward } = posteriorOfRight(
    evidence,
    links.map((link) => link.repeat),
    state.priorRight,
  );
  contacts.forEach((tracked, i) => {
    const before = i > 0 ? contacts[i - 1]! : null;
    if (before !== null && continues[i]) setBout(tracked, before.bout);
    else if (tracked.bout === 0 || tracked.bout === before?.bout) setBout(tracked, (state.bouts += 1));
    const isKnown = tracked.evidence !== null || Math.abs(right[i]! - 0.5) > UNKNOWN_WITHIN;
    const p = landings[i] ? right[i]! + (0.5 - right[i]!) * LINKS.bothFeetProbability : right[i]!;
    setSide(tracked, isKnown ? (p >= 0.5 ? 'right' : 'left') : 'unknown', isKnown ? Math.max(p, 1 - p) : 0.5);
  });
  const out = putOut(state, contacts, toeOffs);
  forget(state, contacts, links, forward);
  return out;
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
  else {
    tracked.evidence = evidenceOf(ring, contact, stepS * rateHz, tracked.event.gait) ?? tracked.evidence;
    tracked.turnRate = turnRateAround(ring, contact, stepS * rateHz) ?? tracked.turnRate;
  }
  if (after !== null && ring.newestS - timesS[i]! >= stepS) tracked.isWhole = true;
}

/** Gives the toe-offs the sides of the contacts, both without withdrawn ones, and puts out what has changed. */
function putOut(state: SidesState, contacts: readonly Tracked[], toeOffs: readonly Tracked[]): SidedContact[] {
  giveSides(toeOffs, contacts, state.gapsS);
  const out: SidedContact[] = [];
  emit(state.contacts, out);
  emit(state.toeOffs, out);
  return out.sort((a, b) => a.id - b.id);
}

function emit(list: readonly Tracked[], out: SidedContact[]): void {
  for (const tracked of list) {
    if (!tracked.isChanged) continue;
    tracked.isChanged = false;
    tracked.revision += 1;
    const { event, revision, side, posterior, bout } = tracked;
    const { id, withdrawn, tS, type, gait, confidence } = event;
    out.push({ id, revision, withdrawn, tS, type, gait, confidence, side, sidePosterior: posterior, bout });
  }
}

/** Keeps the memory bounded; withdrawn events cannot come back. */
function forget(
  state: SidesState,
  contacts: readonly Tracked[],
  links: readonly Link[],
  forward: readonly number[],
): void {
  const excess = Math.max(0, contacts.length - SIDES_PARAMS.contactsMax);
  if (excess > 0) {
    const { repeat } = links[excess]!;
    const last = forward[excess - 1]!;
    state.priorRight = repeat * last + (1 - repeat) * (1 - last);
  }
  state.contacts = contacts.slice(excess);
  state.toeOffs = known(state.toeOffs).slice(-SIDES_PARAMS.contactsMax);
}
