/** Toe-offs beside the contacts: which foot they are of, and what flights they make. */
import { otherSide } from '@ambipede/shared';
import type { Flights } from './links.ts';
import { hasBreak } from '../stance-frames.ts';
import { setBout, setSide, type Tracked } from './tracked.ts';

/** Longest stance and flight that join a toe-off to a contact. */
const STANCE_S_MAX = 0.6;
const FLIGHT_S_MAX = 1.0;

/**
 * Walking: of the other foot than the contact before it (double support), which is that of the contact after it.
 * Running: of the same foot as the contact that began the stance, of the other foot than the one that ends the flight.
 * One toe-off goes with one contact; across lost samples the contact before is only the second choice.
 * @param contacts @param toeOffs both in order of time, withdrawn ones left out
 * @param gapsS when samples came again after lost ones
 */
export function giveSides(toeOffs: readonly Tracked[], contacts: readonly Tracked[], gapsS: readonly number[]): void {
  let next = 0;
  let taken: Tracked | undefined;
  for (const toeOff of toeOffs) {
    while (next < contacts.length && contacts[next]!.event.tS <= toeOff.event.tS) next += 1;
    const before = contacts[next - 1];
    const after = contacts[next];
    const isWalk = toeOff.event.gait === 'walk';
    const begins = before !== undefined && before !== taken && isStance(before, toeOff);
    if (begins && !hasGap(gapsS, before, toeOff)) copySide(toeOff, before, isWalk);
    else if (after !== undefined && isFlight(toeOff, after) && !hasGap(gapsS, toeOff, after))
      copySide(toeOff, after, !isWalk);
    else if (begins) copySide(toeOff, before, isWalk);
    else setSide(toeOff, 'unknown', 0.5);
    taken = before;
  }
}

function hasGap(gapsS: readonly number[], from: Tracked, to: Tracked): boolean {
  return hasBreak(gapsS, from.event.tS, to.event.tS);
}

function isStance(contact: Tracked, toeOff: Tracked): boolean {
  const isSameGait = toeOff.event.gait === 'walk' || contact.event.gait === 'run';
  return isSameGait && toeOff.event.tS - contact.event.tS < STANCE_S_MAX;
}

function isFlight(toeOff: Tracked, contact: Tracked): boolean {
  return contact.event.tS - toeOff.event.tS < FLIGHT_S_MAX;
}

function copySide(toeOff: Tracked, contact: Tracked, isOther: boolean): void {
  const side = contact.side === 'unknown' || !isOther ? contact.side : otherSide(contact.side);
  setSide(toeOff, side, contact.posterior);
  setBout(toeOff, contact.bout);
}

/** The flights and stances of running around each contact. */
export function flightsOf(contacts: readonly Tracked[], toeOffs: readonly Tracked[]): Flights[] {
  const flights = contacts.map((): Flights => ({ beforeS: NaN, contactS: NaN, afterS: NaN }));
  let next = 0;
  for (const { event } of toeOffs) {
    if (event.gait !== 'run') continue;
    while (next < contacts.length && contacts[next]!.event.tS <= event.tS) next += 1;
    const before = flights[next - 1];
    const after = flights[next];
    if (before !== undefined) before.contactS = event.tS - contacts[next - 1]!.event.tS;
    if (after !== undefined) after.beforeS = contacts[next]!.event.tS - event.tS;
    if (before !== undefined && after !== undefined) before.afterS = after.beforeS;
  }
  return flights;
}
