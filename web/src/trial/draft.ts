/** Changes of a trial that the server does not have yet, kept in this browser. */
import type { TrialChange } from '@ambipede/shared';

const DRAFT_KEY = 'ambipede.trial-draft.';

export function keepDraft(trialId: string, change: TrialChange): void {
  // A full or forbidden storage costs the safety net, not the change itself.
  try {
    localStorage.setItem(DRAFT_KEY + trialId, JSON.stringify(change));
  } catch {
    return;
  }
}

export function dropDraft(trialId: string): void {
  try {
    localStorage.removeItem(DRAFT_KEY + trialId);
  } catch {
    return;
  }
}

/** Null when there is none, or none that can be read. */
export function readDraft(trialId: string): TrialChange | null {
  try {
    const { tags, note, discarded } = JSON.parse(localStorage.getItem(DRAFT_KEY + trialId) ?? 'null') as TrialChange;
    const draft: TrialChange = {};
    if (Array.isArray(tags) && tags.every((tag) => typeof tag === 'string')) draft.tags = tags;
    if (typeof note === 'string') draft.note = note;
    if (typeof discarded === 'boolean') draft.discarded = discarded;
    return Object.keys(draft).length > 0 ? draft : null;
  } catch {
    return null;
  }
}
