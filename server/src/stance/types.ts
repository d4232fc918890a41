/** What flows from frames of the pelvis to contacts with a side, and on to stances. */
import type { ContactType, SideOrUnknown } from '@ambipede/shared';

export type Gait = 'walk' | 'run';

/** A foot contact event without a side yet: output of the contacts stage. */
export interface ContactEvent {
  /** Stable: a correction keeps the id and raises the revision. Increasing in order of first publication. */
  id: number;
  revision: number;
  /** True when a later look says that there was no such event. */
  withdrawn: boolean;
  tS: number;
  type: ContactType;
  gait: Gait;
  /** 0..1 that the event is real. */
  confidence: number;
}

/** Output of the sides stage. */
export interface SidedContact extends ContactEvent {
  side: SideOrUnknown;
  /** Posterior probability of `side`, 0.5..1; 0.5 when unknown. */
  sidePosterior: number;
  /** Number of the unbroken sequence of alternating steps that this event belongs to. */
  bout: number;
}
