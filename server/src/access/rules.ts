/** The rule that every route and every socket has: who may use it. A route without one ends the start of the server (guard.ts). */
import type { FastifyRequest } from 'fastify';
import type { AthleteRight, Role } from '@ambipede/shared';

/** Finds whose data a request is about. */
export interface AthleteOf {
  /** As the answer 404 names it, and the list of those that exist. */
  what: string;
  list: string;
  /** Whose it is stands in the body: it can be told after that has been read, and not before. */
  inBody: boolean;
  /** `none`: about nobody, which the rule's `roles` then decide. Null: there is no such thing. */
  find(request: FastifyRequest, lookups: AthleteLookups): Promise<string | null | 'none'>;
}

export interface AthleteLookups {
  ofSession(id: string): Promise<string | null>;
  ofTrial(id: string): Promise<string | null>;
  /** `none`: nobody wears it. */
  ofDevice(deviceId: string): Promise<string | 'none'>;
}

export type AccessRule =
  /** `fromPrograms`: asked by programs, which say no Origin. One that is said has to be that of this server. */
  | { kind: 'public'; why: string; fromPrograms: boolean }
  /** From the machine itself, not through a proxy; from elsewhere to a keeper. */
  | { kind: 'machine' }
  /** `beforeSetUp`: also while a first password is to be changed, or a second factor to be set up. */
  | { kind: 'signed-in'; beforeSetUp: boolean }
  | { kind: 'roles'; roles: readonly Role[] }
  | { kind: 'athlete'; right: AthleteRight; of: AthleteOf; roles: readonly Role[] };

export const MACHINE: AccessRule = { kind: 'machine' };
export const SIGNED_IN: AccessRule = { kind: 'signed-in', beforeSetUp: false };
export const OWN_ACCOUNT: AccessRule = { kind: 'signed-in', beforeSetUp: true };
export const KEEPERS: AccessRule = { kind: 'roles', roles: ['keeper'] };
/** Whoever puts sensors on athletes. */
export const STAFF_ROLES: readonly Role[] = ['keeper', 'coach', 'physio'];
export const STAFF: AccessRule = { kind: 'roles', roles: STAFF_ROLES };

export function openToAll(why: string, { fromPrograms } = { fromPrograms: false }): AccessRule {
  return { kind: 'public', why, fromPrograms };
}

/** @param roles who may where the request is about nobody */
export function forAthlete(
  right: AthleteRight,
  of: AthleteOf = athleteInPath,
  roles: readonly Role[] = [],
): AccessRule {
  return { kind: 'athlete', right, of, roles };
}

const ATHLETES = { what: 'athlete', list: '/api/athletes', inBody: false };
const idInPath = ({ params }: FastifyRequest): string => (params as { id: string }).id;

export const athleteInPath: AthleteOf = { ...ATHLETES, find: async (request) => idInPath(request) };

export const athleteInBody: AthleteOf = {
  ...ATHLETES,
  inBody: true,
  find: async ({ body }) => (body as { athleteId: string | null }).athleteId ?? 'none',
};

export const athleteOfSession: AthleteOf = {
  what: 'session',
  list: '/api/athletes',
  inBody: false,
  find: (request, lookups) => lookups.ofSession(idInPath(request)),
};

export const athleteOfTrial: AthleteOf = {
  what: 'trial',
  list: '/api/athletes/:id/trials',
  inBody: false,
  find: (request, lookups) => lookups.ofTrial(idInPath(request)),
};

/** Who wears the device now: its samples are theirs. */
export const athleteOfDevice: AthleteOf = {
  what: 'sensor',
  list: '/api/sensors',
  inBody: false,
  find: ({ params }, lookups) => lookups.ofDevice((params as { deviceId: string }).deviceId),
};
