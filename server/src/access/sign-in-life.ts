/** How long a sign-in lives, and when its cookie gets a new value. Pure. */
import { SIGN_IN_IDLE_MS } from '@ambipede/shared';

/** Then everybody signs in again (ASVS 4.0.3, 3.3.2, level 2). */
export const SIGN_IN_MS_MAX = 12 * 3_600_000;
/** Without any request for so long (the same requirement). A page that is asked nothing takes itself down then. */
export const IDLE_MS_MAX = SIGN_IN_IDLE_MS;
/** Older values are replaced. */
export const ROTATE_AFTER_MS = 15 * 60_000;
/** Requests that were under way with the old value when the new one came back. */
export const OLD_TOKEN_GRACE_MS = 60_000;
/** The time of the last request is not written more often. */
export const SEEN_EVERY_MS = 60_000;

export interface SignInTimes {
  startedUtcMs: number;
  seenUtcMs: number;
  tokenUtcMs: number;
  /** The newest value has come back; null while it may never have arrived. */
  confirmedUtcMs: number | null;
}

/**
 * `over`: too old. `stolen`: an old value, long after its follower was in use, so two hold this sign-in. `rotate`: good, and its value
 * is to be replaced. `reissue`: good, and the newest value seems never to have arrived. `confirm`: good, and the newest value has come back for
 * the first time.
 */
export type SignInState = 'good' | 'rotate' | 'reissue' | 'confirm' | 'over' | 'stolen';

/** @param withOld the value that came is the one before the newest */
export function stateOfSignIn(times: SignInTimes, withOld: boolean, nowUtcMs: number): SignInState {
  const { startedUtcMs, seenUtcMs, tokenUtcMs, confirmedUtcMs } = times;
  if (nowUtcMs - startedUtcMs >= SIGN_IN_MS_MAX || nowUtcMs - seenUtcMs >= IDLE_MS_MAX) return 'over';
  if (withOld && confirmedUtcMs === null) return nowUtcMs - tokenUtcMs >= OLD_TOKEN_GRACE_MS ? 'reissue' : 'good';
  if (withOld) return nowUtcMs - confirmedUtcMs! >= OLD_TOKEN_GRACE_MS ? 'stolen' : 'good';
  if (confirmedUtcMs === null) return 'confirm';
  return nowUtcMs - tokenUtcMs >= ROTATE_AFTER_MS ? 'rotate' : 'good';
}
