/** What somebody may do with the data of one athlete: by role, by relation and by consent. */
import { ATHLETE_RIGHTS, type AthleteRight, type ConsentPurpose, type Role } from '@ambipede/shared';

/** How an account stands to one athlete. */
export interface Relation {
  /** The account is the athlete's own. */
  isOwn: boolean;
  caresFor: boolean;
  /** In force: given and not withdrawn. */
  consents: ReadonlySet<ConsentPurpose>;
}

export const ALL_RIGHTS: ReadonlySet<AthleteRight> = new Set(ATHLETE_RIGHTS);

const OWN: readonly AthleteRight[] = ['know', 'see', 'see-health', 'consent', 'export-all'];
/** The keeper runs the server and does not treat: no measurement is shown to one who is nothing else. */
const KEEPER: readonly AthleteRight[] = ['know', 'consent', 'assign', 'export-all', 'erase'];
/** Before there is any consent: enough to ask for it. */
const CARER: readonly AthleteRight[] = ['know', 'consent'];

export function rightsOn(roles: readonly Role[], { isOwn, caresFor, consents }: Relation): ReadonlySet<AthleteRight> {
  const rights = new Set<AthleteRight>();
  const give = (given: readonly AthleteRight[]): void => given.forEach((right) => rights.add(right));
  if (roles.includes('athlete') && isOwn) give(OWN);
  if (roles.includes('keeper')) give(KEEPER);
  if (!caresFor) return rights;
  const [isCoach, isPhysio] = [roles.includes('coach'), roles.includes('physio')];
  if (!isCoach && !isPhysio) return rights;
  give(CARER);
  if (!consents.has('recording')) return rights;
  give(['see', 'measure']);
  if (isPhysio) give(['see-health', 'write-health']);
  else if (consents.has('health to coach')) give(['see-health']);
  return rights;
}
