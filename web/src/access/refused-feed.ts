import { LIVE_CLOSE } from '@ambipede/shared';
import { who } from './who.svelte.ts';

const WITHOUT_RIGHT: readonly number[] = [LIVE_CLOSE.notSignedIn, LIVE_CLOSE.notAllowed];

/** The live socket was closed since whoever looks may not see the athlete. Who may not even know of one is told that there is none. */
export function isWithoutRight(code: number): boolean {
  return WITHOUT_RIGHT.includes(code) || (who.hasAccounts && code === LIVE_CLOSE.noSuchAthlete);
}
