import type { Stance } from '@ambipede/shared';

/**
 * The list with a stance added, replaced by a revision that is not older, or taken out. In order of contact. Where nothing
 * changes it is the same list, so that nothing is drawn again.
 */
export function withStance(stances: readonly Stance[], stance: Stance, withdrawn: boolean): readonly Stance[] {
  const known = stances.find(({ id }) => id === stance.id);
  if (known === undefined ? withdrawn : known.revision > stance.revision) return stances;
  const others = stances.filter(({ id }) => id !== stance.id);
  if (withdrawn) return others;
  return [...others, stance].sort((a, b) => a.initialContact - b.initialContact);
}
