/** What is wrong with a new password as it is typed. Its length alone counts. */
import { PASSWORD_CHARACTERS_MAX, PASSWORD_CHARACTERS_MIN } from '@ambipede/shared';
import { TEXTS } from '../texts.ts';

export interface PasswordDraft {
  now: string;
  next: string;
  again: string;
}
export type PasswordProblems = Partial<Record<keyof PasswordDraft, string>>;

/** Characters as people count them, not as they are stored. */
export function charactersOf(password: string): number {
  return [...password].length;
}

export function problemsOf({ now, next, again }: PasswordDraft): PasswordProblems {
  const problems: PasswordProblems = {};
  const length = charactersOf(next);
  if (now === '') problems.now = TEXTS.signIn.missingPassword;
  if (length < PASSWORD_CHARACTERS_MIN) problems.next = TEXTS.password.tooShort(PASSWORD_CHARACTERS_MIN - length);
  else if (length > PASSWORD_CHARACTERS_MAX) problems.next = TEXTS.password.tooLong(PASSWORD_CHARACTERS_MAX);
  if (again !== next) problems.again = TEXTS.password.notSame;
  return problems;
}
