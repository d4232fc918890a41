/** A contact event on its way through the stage: what is known of its side, and what was last put out. */
import type { SideOrUnknown } from '@ambipede/shared';
import type { ContactEvent } from '../types.ts';
import type { Evidence } from './evidence.ts';

export interface Tracked {
  event: ContactEvent;
  evidence: Evidence | null;
  /** Mean rate about the vertical around the contact, rad/s; 0 where not known. */
  turnRate: number;
  /** The whole step around the contact has been read. */
  isWhole: boolean;
  side: SideOrUnknown;
  posterior: number;
  bout: number;
  /** Revision last put out; -1 before the first. */
  revision: number;
  isChanged: boolean;
}

/** A change of the posterior smaller than this is not put out. */
const POSTERIOR_STEP = 0.02;

export function track(event: ContactEvent): Tracked {
  return {
    event,
    evidence: null,
    turnRate: 0,
    isWhole: false,
    side: 'unknown',
    posterior: 0.5,
    bout: 0,
    revision: -1,
    isChanged: true,
  };
}

export function setBout(tracked: Tracked, bout: number): void {
  if (tracked.bout === bout) return;
  tracked.bout = bout;
  tracked.isChanged = true;
}

export function setSide(tracked: Tracked, side: SideOrUnknown, posterior: number): void {
  if (tracked.side === side && Math.abs(tracked.posterior - posterior) < POSTERIOR_STEP) return;
  tracked.side = side;
  tracked.posterior = posterior;
  tracked.isChanged = true;
}
