/** What is typed about an account, and what is wrong with it. */
import type { Account, NewAccount, Role } from '@ambipede/shared';
import { PEOPLE_TEXTS } from '../texts-people.ts';

export interface AccountDraft {
  login: string;
  name: string;
  roles: Role[];
  /** Empty until chosen. */
  athleteId: string;
}

export type AccountProblems = Partial<Record<keyof AccountDraft, string>>;

export function draftOf(account: Account | null): AccountDraft {
  const { login = '', name = '', roles = [], athleteId = null } = account ?? {};
  return { login, name, roles: [...roles], athleteId: athleteId ?? '' };
}

export function problemsOf({ login, name, roles, athleteId }: AccountDraft): AccountProblems {
  const words = PEOPLE_TEXTS.accounts;
  return {
    ...(login.trim() === '' && { login: words.loginMissing }),
    ...(name.trim() === '' && { name: words.nameMissing }),
    ...(roles.length === 0 && { roles: words.rolesMissing }),
    ...(roles.includes('athlete') && athleteId === '' && { athleteId: words.athleteMissing }),
  };
}

export function accountOf({ login, name, roles, athleteId }: AccountDraft): NewAccount {
  return {
    login: login.trim(),
    name: name.trim(),
    roles: [...roles],
    athleteId: roles.includes('athlete') ? athleteId : null,
  };
}
