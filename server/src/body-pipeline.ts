/**
 * From poses of the two sensors to stances: the second half of the wiring, shared by live view and final analysis.
 *
 *   pelvis  poses > mount \
 *                          pair > angles > contacts > sides > stances
 *   sternum poses > mount /
 */
import type { Place } from '@ambipede/shared';
import { startAngles, stepAngles, type AngleState } from './motion/angles.ts';
import { startMount, stepMount, type MountState } from './motion/mount.ts';
import { flushPair, startPair, stepPair, type PairState } from './motion/pair.ts';
import type { AngleFrame, FusedSample, PairedFrame, SegmentFrame } from './motion/types.ts';
import { flushContacts, startContacts, stepContacts, type ContactState } from './stance/contacts.ts';
import { flushSides, startSides, stepSides, type SidesState } from './stance/sides.ts';
import {
  flushStances,
  startStances,
  stepStanceFrame,
  stepStances,
  type StanceChange,
  type StancesState,
} from './stance/stances.ts';
import type { SidedContact } from './stance/types.ts';

export interface BodyState {
  mount: Record<Place, MountState>;
  pair: PairState;
  angles: AngleState;
  contacts: ContactState;
  sides: SidesState;
  stances: StancesState;
}

export type BodyOutput =
  | { kind: 'angles'; frame: AngleFrame }
  | { kind: 'contact'; contact: SidedContact }
  | ({ kind: 'stance' } & StanceChange);

/** Where outputs go: an array, or whatever takes them one by one. */
export interface BodySink {
  push(output: BodyOutput): unknown;
}

/** @param stanceMemoryS how far back corrections reach; Infinity for a final analysis. */
export function startBody(pelvisRateHz: number, stanceMemoryS?: number): BodyState {
  return {
    mount: { pelvis: startMount(null), sternum: startMount(null) },
    pair: startPair(),
    angles: startAngles(),
    contacts: startContacts(pelvisRateHz),
    sides: startSides(pelvisRateHz),
    stances: startStances(stanceMemoryS),
  };
}

/** Adds to `out` what comes of the sample, which is not kept. */
export function stepBody(state: BodyState, place: Place, sample: FusedSample, out: BodySink): void {
  for (const frame of stepMount(state.mount[place], sample)) stepSegment(state, place, frame, out);
}

/** The same from a segment's frame on. */
export function stepSegment(state: BodyState, place: Place, frame: SegmentFrame, out: BodySink): void {
  for (const paired of stepPair(state.pair, place, frame)) stepPaired(state, paired, out);
}

/** At the end of a recording: everything still held back comes out. */
export function flushBody(state: BodyState): BodyOutput[] {
  const out: BodyOutput[] = [];
  for (const paired of flushPair(state.pair)) stepPaired(state, paired, out);
  const events = flushContacts(state.contacts);
  publish(state, [...stepSides(state.sides, null, events), ...flushSides(state.sides)], out);
  for (const change of flushStances(state.stances)) out.push({ kind: 'stance', ...change });
  return out;
}

function stepPaired(state: BodyState, paired: PairedFrame, out: BodySink): void {
  const frame = stepAngles(state.angles, paired);
  out.push({ kind: 'angles', frame });
  stepStanceFrame(state.stances, paired, frame);
  const events = stepContacts(state.contacts, paired.pelvis, paired.sternum);
  publish(state, stepSides(state.sides, paired.pelvis, events), out);
}

function publish(state: BodyState, contacts: SidedContact[], out: BodySink): void {
  if (contacts.length === 0) return;
  for (const contact of contacts) out.push({ kind: 'contact', contact });
  for (const change of stepStances(state.stances, contacts)) out.push({ kind: 'stance', ...change });
}
