/** Gives events their ids and revisions, and collects what a step of the stage puts out. */
import type { ContactType } from '@ambipede/shared';
import type { ContactEvent, Gait } from '../types.ts';

export interface Ledger {
  nextId: number;
  out: ContactEvent[];
}

/** A change smaller than this is not worth a correction. */
const REVISION_MIN_S = 0.001;

export function startLedger(): Ledger {
  return { nextId: 0, out: [] };
}

export function publish(ledger: Ledger, type: ContactType, gait: Gait, tS: number, confidence: number): ContactEvent {
  const event = { id: ledger.nextId, revision: 0, withdrawn: false, tS, type, gait, confidence };
  ledger.nextId += 1;
  ledger.out.push({ ...event });
  return event;
}

/** Corrects `event` in place and puts the correction out, if it is one. */
export function revise(ledger: Ledger, event: ContactEvent, tS: number, confidence: number): void {
  if (event.withdrawn) return;
  if (Math.abs(tS - event.tS) < REVISION_MIN_S && Math.abs(confidence - event.confidence) < 0.05) return;
  event.tS = tS;
  event.confidence = confidence;
  event.revision += 1;
  ledger.out.push({ ...event });
}

export function withdraw(ledger: Ledger, event: ContactEvent | null): void {
  if (event === null || event.withdrawn) return;
  event.withdrawn = true;
  event.revision += 1;
  ledger.out.push({ ...event });
}

/** Takes back what is about to be published for the first time outside the samples: nothing is known there. */
export function cutOutside(ledger: Ledger, startS: number, endS: number): void {
  if (ledger.out.length === 0) return;
  const isOutside = (event: ContactEvent): boolean => event.revision === 0 && (event.tS < startS || event.tS > endS);
  const cut = new Set(ledger.out.filter(isOutside).map((event) => event.id));
  if (cut.size > 0) ledger.out = ledger.out.filter((event) => !cut.has(event.id));
}

/** Everything put out since the last call. */
export function take(ledger: Ledger): ContactEvent[] {
  if (ledger.out.length === 0) return [];
  const out = ledger.out;
  ledger.out = [];
  return out;
}
