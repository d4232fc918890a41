/** Who asks. */
import type { AthleteRight, Role } from '@ambipede/shared';
import { ALL_RIGHTS, rightsOn, type Relation } from './rights.ts';

export interface Identity {
  accountId: string;
  name: string;
  roles: readonly Role[];
  /** Of an account with the role athlete. */
  athleteId: string | null;
  signInId: string;
  passwordIsFirst: boolean;
  /** A keeper without a second factor, on a server that others reach. */
  secondFactorIsDue: boolean;
}

/** `open`: a demonstration with invented people, where whoever reaches the server may do everything. */
export type Caller = Identity | 'open';

export function rightsOf(
  caller: Caller,
  athleteId: string,
  relation: Omit<Relation, 'isOwn'>,
): ReadonlySet<AthleteRight> {
  if (caller === 'open') return ALL_RIGHTS;
  return rightsOn(caller.roles, { ...relation, isOwn: caller.athleteId === athleteId });
}

export function hasRole(caller: Caller, roles: readonly Role[]): boolean {
  return caller === 'open' || caller.roles.some((role) => roles.includes(role));
}
