/** An athlete's details as they are being typed, and what becomes of them. Empty stays unknown: null, never 0. */
import {
  ATHLETE_NOTES_CHARACTERS_MAX,
  BODY_MASS_KG_MAX,
  BODY_MASS_KG_MIN,
  NAME_CHARACTERS_MAX,
  type AthleteChange,
  type AthleteDetails,
} from '@ambipede/shared';
import { TEXTS } from '../texts.ts';

export interface AthleteDraft extends Omit<AthleteDetails, 'bodyMassKg'> {
  /** As typed, with a point or a comma. */
  bodyMass: string;
}

export type DraftField = 'name' | 'bodyMass' | 'notes';
export type DraftProblems = Partial<Record<DraftField, string>>;

export function draftOf(details: AthleteDetails | null): AthleteDraft {
  return {
    name: details?.name ?? '',
    bodyMass: details?.bodyMassKg == null ? '' : String(details.bodyMassKg),
    dominantHand: details?.dominantHand ?? null,
    preferredTakeOffFoot: details?.preferredTakeOffFoot ?? null,
    notes: details?.notes ?? '',
  };
}

/** Digits with one point or comma; no exponents, no signs: what a person means by a body mass. */
const DECIMAL = /^\d+(?:[.,]\d+)?$/;

function massOf(text: string): number | null {
  const typed = text.trim();
  return DECIMAL.test(typed) ? Number(typed.replace(',', '.')) : null;
}

export function problemsOf({ name, bodyMass, notes }: AthleteDraft): DraftProblems {
  const { wrong } = TEXTS.details;
  const problems: DraftProblems = {};
  if (name.trim() === '') problems.name = wrong.name;
  else if (name.trim().length > NAME_CHARACTERS_MAX) problems.name = wrong.long(NAME_CHARACTERS_MAX);
  if (bodyMass.trim() !== '') {
    const mass = massOf(bodyMass);
    if (mass === null) problems.bodyMass = wrong.massNotNumber(bodyMass.trim());
    else if (mass < BODY_MASS_KG_MIN || mass > BODY_MASS_KG_MAX) {
      problems.bodyMass = wrong.massRange(BODY_MASS_KG_MIN, BODY_MASS_KG_MAX);
    }
  }
  if (notes.length > ATHLETE_NOTES_CHARACTERS_MAX) problems.notes = wrong.long(ATHLETE_NOTES_CHARACTERS_MAX);
  return problems;
}

/** Only of a draft without problems. */
export function detailsOf(draft: AthleteDraft): AthleteDetails {
  const { bodyMass, ...rest } = draft;
  return { ...rest, name: draft.name.trim(), bodyMassKg: massOf(bodyMass) };
}

/** What differs from `before`, so that nothing is sent back that somebody else changed meanwhile; null: nothing differs. */
export function changeOf(before: AthleteDetails, after: AthleteDetails): AthleteChange | null {
  const change: AthleteChange = {};
  if (after.name !== before.name) change.name = after.name;
  if (after.bodyMassKg !== before.bodyMassKg) change.bodyMassKg = after.bodyMassKg;
  if (after.dominantHand !== before.dominantHand) change.dominantHand = after.dominantHand;
  if (after.preferredTakeOffFoot !== before.preferredTakeOffFoot) {
    change.preferredTakeOffFoot = after.preferredTakeOffFoot;
  }
  if (after.notes !== before.notes) change.notes = after.notes;
  return Object.keys(change).length === 0 ? null : change;
}
