/** The one mechanism: every route and both sockets ask here who somebody is and what they may do. */
import type { AthleteRight } from '@ambipede/shared';
import { ApiProblem, notFound } from '../errors.ts';
import { findRelation, listRelations, type StoredRelation } from '../store/care.ts';
import type { Db } from '../store/database.ts';
import { athleteOfStoredSession, athleteOfStoredTrial, wearerOf } from '../store/find-athlete.ts';
import { athleteExists } from '../store/athletes.ts';
import { rightsOf, type Caller } from './identity.ts';
import { ALL_RIGHTS } from './rights.ts';
import type { AthleteLookups } from './rules.ts';

/** What is said to somebody who may know the athlete, yet not do this. */
const REFUSALS: Partial<Record<AthleteRight, string>> = {
  see: 'There is no consent in force to recording this athlete, or you do not care for the athlete. Ask for the consent and record it on the page Consent.',
  measure:
    'Measuring needs a consent in force to recording, and somebody who cares for this athlete. Ask for the consent and record it on the page Consent.',
  'see-health':
    'Notes of injury and pain, and return episodes, are seen by the physio who cares for this athlete; by a coach when the athlete has consented to that.',
  'write-health': 'Return episodes are written by the physio who cares for this athlete.',
  assign: 'Who cares for an athlete is said by a keeper of this server.',
  'export-all': 'Everything about an athlete is given to the athlete and to a keeper of this server.',
  erase: 'An athlete is erased by a keeper of this server.',
};

const NO_RELATION: StoredRelation = { caresFor: false, consents: new Set() };

export class Access {
  readonly #db: Db;
  readonly lookups: AthleteLookups;

  constructor(db: Db) {
    this.#db = db;
    this.lookups = {
      ofSession: (id) => athleteOfStoredSession(db, id),
      ofTrial: (id) => athleteOfStoredTrial(db, id),
      ofDevice: async (deviceId) => (await wearerOf(db, deviceId)) ?? 'none',
    };
  }

  /** What a caller may do with an athlete; nothing where there is no such athlete. */
  async rightsOn(caller: Caller, athleteId: string): Promise<ReadonlySet<AthleteRight>> {
    if (caller === 'open') return (await athleteExists(this.#db, athleteId)) ? ALL_RIGHTS : new Set();
    const relation = await findRelation(this.#db, athleteId, caller.accountId);
    return relation ? rightsOf(caller, athleteId, relation) : new Set();
  }

  /**
   * @throws ApiProblem 404 for an athlete whom the caller may not even know, as if there were none (`what` and `list` are of what was asked
   *   for); 403 with what is missing otherwise
   */
  async require(
    caller: Caller,
    athleteId: string,
    right: AthleteRight,
    { what, list }: { what: string; list: string },
  ): Promise<void> {
    const rights = await this.rightsOn(caller, athleteId);
    if (rights.has(right)) return;
    if (!rights.has('know')) throw notFound(what, list);
    throw new ApiProblem(403, 'not-allowed', REFUSALS[right] ?? 'Your account may not do this.');
  }

  /** What a caller may do with each athlete of a list. */
  async rightsOnEach(caller: Caller): Promise<(athleteId: string) => ReadonlySet<AthleteRight>> {
    const relations =
      caller === 'open' ? new Map<string, StoredRelation>() : await listRelations(this.#db, caller.accountId);
    return (athleteId) => rightsOf(caller, athleteId, relations.get(athleteId) ?? NO_RELATION);
  }
}
