import type { Stance } from '@ambipede/shared';

/** The list with a stance added, replaced by a revision that is not older, or taken out. In order of contact. */
export function withStance(stances: readonly Stance[], stance: Stance, withdrawn: boolean): Stance[] {
  const known = stances.find(({ id }) => id === stance.id);
  if (known !== undefined && known.revision > stance.revision) return [...stances];
  const others = stances.filter(({ id }) => id !== stance.id);
  if (withdrawn) return others;
  return [...others, stance].sort((a, b) => a.initialContact - b.initialContact);
}
