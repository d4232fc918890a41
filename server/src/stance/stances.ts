/**
 * Stage `stances`: contacts with a side become stances with metrics. Contacts may be corrected later, so a stance keeps
 * its id (that of its initial contact) and raises its revision, or is withdrawn.
 */
import type { LostReason, Stance } from '@ambipede/shared';
import { addStanceFrame, hasBreak, startStanceFrames, trimStanceFrames, type StanceFrames } from './stance-frames.ts';
import { measureStance, type StanceTimes } from './measure.ts';
import type { AngleFrame, PairedFrame } from '../motion/types.ts';
import type { SidedContact } from './types.ts';

export const STANCES = {
  /** Stances whose side is less certain than this are left out and counted. */
  sidePosteriorMin: 0.9,
  /** A change of the posterior smaller than this is not worth a revision. */
  sidePosteriorStep: 0.01,
  /** Longer than any stance of slow walking, s. */
  stanceSMax: 2.5,
  /** Shorter than any stance, s. */
  stanceSMin: 0.05,
  /** Live: how far back a correction can still change a stance, s. */
  memoryS: 20,
} as const;

export interface StancesState {
  /** Seconds of frames and contacts kept; Infinity for a final analysis. */
  readonly memoryS: number;
  frames: StanceFrames;
  contacts: Map<number, SidedContact>;
  published: Stance[];
  /** The times that each published stance was measured on, by its id: the same times need no second look. */
  measuredOn: Map<number, StanceTimes>;
  /** Initial contacts that never became a kept stance, with why; final once they are older than the memory. */
  lost: LostStance[];
}

/** An initial contact that did not become a kept stance. */
export interface LostStance {
  tS: number;
  reason: LostReason;
}

export interface StanceChange {
  stance: Stance;
  withdrawn: boolean;
}

export function startStances(memoryS: number = STANCES.memoryS): StancesState {
  return { memoryS, frames: startStanceFrames(), contacts: new Map(), published: [], measuredOn: new Map(), lost: [] };
}

export function stepStanceFrame(state: StancesState, paired: PairedFrame, angles: AngleFrame): void {
  addStanceFrame(state.frames, paired, angles);
  if (state.memoryS < Infinity) {
    trimStanceFrames(state.frames, paired.tS - state.memoryS);
    forget(state, paired.tS - state.memoryS);
  }
}

/**
 * Takes new or corrected contacts and returns the stances that are new, changed or withdrawn. A final analysis, which
 * knows no end of memory, only collects: `flushStances` makes its stances once.
 */
export function stepStances(state: StancesState, contacts: readonly SidedContact[]): StanceChange[] {
  if (contacts.length === 0) return [];
  for (const contact of contacts) {
    if (contact.withdrawn) state.contacts.delete(contact.id);
    else state.contacts.set(contact.id, contact);
  }
  return state.memoryS === Infinity ? [] : publish(state);
}

/** At the end of a recording. */
export function flushStances(state: StancesState): StanceChange[] {
  return publish(state);
}

function forget(state: StancesState, beforeS: number): void {
  for (const [id, contact] of state.contacts) {
    // In order of first publication, which is nearly that of time.
    if (contact.tS >= beforeS) break;
    state.contacts.delete(id);
  }
  while (state.published.length > 0 && state.published[0]!.initialContact < beforeS) {
    state.measuredOn.delete(state.published.shift()!.id);
  }
}

function publish(state: StancesState): StanceChange[] {
  const before = new Map(state.published.map((s) => [s.id, s]));
  const contacts = [...state.contacts.values()].sort((a, b) => a.tS - b.tS);
  const { kept, lost } = stancesOf(contacts, state, before);
  state.lost = lost;
  const changes: StanceChange[] = [];
  const after: Stance[] = [];
  for (const stance of kept) {
    const old = before.get(stance.id);
    before.delete(stance.id);
    const current = old === undefined || old === stance ? stance : { ...stance, revision: old.revision + 1 };
    after.push(current);
    if (current !== old) changes.push({ stance: current, withdrawn: false });
  }
  for (const gone of before.values()) {
    state.measuredOn.delete(gone.id);
    changes.push({ stance: { ...gone, revision: gone.revision + 1 }, withdrawn: true });
  }
  state.published = after;
  return changes;
}

/** All stances that these contacts make, in order; `contacts` in time order. */
function stancesOf(
  contacts: readonly SidedContact[],
  { frames, measuredOn }: StancesState,
  before: ReadonlyMap<number, Stance>,
): { kept: Stance[]; lost: LostStance[] } {
  const kept: Stance[] = [];
  const lost: LostStance[] = [];
  contacts.forEach((contact, i) => {
    if (contact.type !== 'initial_contact') return;
    const { toeOff, nextContact, nextSame } = partnersOf(contacts, i);
    if (toeOff === null) {
      // The last contact has simply not ended yet.
      if (nextContact !== null) lost.push({ tS: contact.tS, reason: 'incomplete' });
      return;
    }
    if (hasBreak(frames.breaks, contact.tS, toeOff.tS)) {
      lost.push({ tS: contact.tS, reason: 'gap' });
      return;
    }
    if (contact.side !== 'unknown' && contact.sidePosterior < STANCES.sidePosteriorMin) {
      lost.push({ tS: contact.tS, reason: 'side uncertain' });
      return;
    }
    const times: StanceTimes = {
      side: contact.side,
      initialContactS: contact.tS,
      toeOffS: toeOff.tS,
      nextContactS: nextContact?.tS ?? null,
      nextSameContactS: nextSame?.tS ?? null,
      gait: contact.gait,
    };
    const old = before.get(contact.id);
    if (old !== undefined && isSameTimes(measuredOn.get(contact.id), times)) {
      const isAsSure = Math.abs(old.sidePosterior - contact.sidePosterior) < STANCES.sidePosteriorStep;
      kept.push(isAsSure ? old : { ...old, sidePosterior: contact.sidePosterior });
      return;
    }
    measuredOn.set(contact.id, times);
    kept.push(measured(frames, contact, times));
  });
  return { kept, lost };
}

function measured(frames: StanceFrames, contact: SidedContact, times: StanceTimes): Stance {
  return {
    id: contact.id,
    revision: 0,
    side: contact.side,
    initialContact: contact.tS,
    toeOff: times.toeOffS,
    sidePosterior: contact.sidePosterior,
    gait: contact.gait,
    ...measureStance(frames, times),
  };
}

function isSameTimes(a: StanceTimes | undefined, b: StanceTimes): boolean {
  return (
    a !== undefined &&
    a.side === b.side &&
    a.initialContactS === b.initialContactS &&
    a.toeOffS === b.toeOffS &&
    a.nextContactS === b.nextContactS &&
    a.nextSameContactS === b.nextSameContactS &&
    a.gait === b.gait
  );
}

/** The toe-off that ends a stance and the next initial contacts, all of the same bout. */
function partnersOf(
  contacts: readonly SidedContact[],
  index: number,
): { toeOff: SidedContact | null; nextContact: SidedContact | null; nextSame: SidedContact | null } {
  const contact = contacts[index]!;
  let toeOff: SidedContact | null = null;
  let nextContact: SidedContact | null = null;
  let nextSame: SidedContact | null = null;
  for (let i = index + 1; i < contacts.length && nextSame === null; i += 1) {
    const other = contacts[i]!;
    const laterS = other.tS - contact.tS;
    if (laterS > 2 * STANCES.stanceSMax) break;
    const isSameFoot = contact.side === 'unknown' ? true : other.side === contact.side;
    if (other.type === 'toe_off') {
      if (toeOff === null && isSameFoot && laterS >= STANCES.stanceSMin && laterS <= STANCES.stanceSMax) toeOff = other;
      continue;
    }
    if (other.bout !== contact.bout) {
      if (toeOff === null) break;
      continue;
    }
    nextContact ??= other;
    if (contact.side === 'unknown') {
      // Feet alternate: the one after the next is the same foot again.
      if (nextContact !== other) nextSame = other;
      else if (toeOff === null) break;
    } else if (isSameFoot) nextSame = other;
  }
  return { toeOff, nextContact, nextSame };
}
