/** Signing in and out, and telling by the cookie who asks. */
import { createHash, randomBytes } from 'node:crypto';
import type { Account, Me } from '@ambipede/shared';
import { ApiProblem } from '../errors.ts';
import { findAccount, findPassword, setPassword } from '../store/accounts.ts';
import type { Db } from '../store/database.ts';
import {
  addSignIn,
  confirmSignIn,
  endSignIn,
  findSignIn,
  findSignInById,
  removeOldSignIns,
  rotateSignIn,
  signInSeen,
} from '../store/sign-ins.ts';
import type { FoundSignIn } from '../store/sign-ins.ts';
import { Attempts } from './attempts.ts';
import type { Identity } from './identity.ts';
import { TooManyWaiting, faultOfPassword, hashOfPassword, isPassword } from './passwords.ts';
import { IDLE_MS_MAX, SEEN_EVERY_MS, SIGN_IN_MS_MAX, stateOfSignIn } from './sign-in-life.ts';

/** 256 bits, as base64url: a cookie's value. */
const TOKEN_RANDOM_BYTES = 32;
const TOKEN_PATTERN = /^[A-Za-z0-9_-]{43}$/;

/** One answer whatever was wrong: it does not tell which logins exist. */
const WRONG = new ApiProblem(
  401,
  'wrong-login-or-password',
  'Login and password do not belong together. Try again; the keeper can give a new password.',
);

export interface Recognised {
  identity: Identity;
  /** To be put into the cookie in the place of the value that came; null: it stays. */
  newToken: string | null;
}

export class SignInService {
  readonly #db: Db;
  readonly #nowUtcMs: () => number;
  readonly #attempts: Attempts;

  constructor(db: Db, nowUtcMs: () => number) {
    this.#db = db;
    this.#nowUtcMs = () => Math.round(nowUtcMs());
    this.#attempts = new Attempts(nowUtcMs);
  }

  /** A new sign-in, never one that was there before: nobody can plant a cookie. @throws ApiProblem 401, 429 */
  async signIn(login: string, password: string): Promise<{ account: Account; token: string; signInId: string }> {
    const key = login.trim().toLowerCase();
    const found = await this.#check(key, password);
    const token = newToken();
    const nowUtcMs = this.#nowUtcMs();
    await removeOldSignIns(this.#db, nowUtcMs - SIGN_IN_MS_MAX, nowUtcMs - IDLE_MS_MAX);
    const signInId = await addSignIn(this.#db, found.id, hashOf(token), nowUtcMs);
    const account = await findAccount(this.#db, found.id);
    if (!account) throw WRONG;
    return { account, token, signInId };
  }

  /** Null when the cookie is none of ours, or no longer good. @param rotates false: the answer can bring no new cookie */
  async recognise(token: string | undefined, { rotates } = { rotates: true }): Promise<Recognised | null> {
    if (token === undefined || !TOKEN_PATTERN.test(token)) return null;
    const found = await findSignIn(this.#db, hashOf(token));
    if (!found) return null;
    const nowUtcMs = this.#nowUtcMs();
    const state = stateOfSignIn(found, found.withOld, nowUtcMs);
    if (state === 'over' || state === 'stolen') {
      await endSignIn(this.#db, found.id);
      return null;
    }
    const identity = identityOf(found);
    if (state === 'confirm') await confirmSignIn(this.#db, found.id, nowUtcMs);
    else if (rotates && (state === 'rotate' || state === 'reissue')) {
      const next = newToken();
      const rotated = await rotateSignIn(this.#db, found, hashOf(next), nowUtcMs, { keepOld: state === 'reissue' });
      return { identity, newToken: rotated ? next : null };
    } else if (nowUtcMs - found.seenUtcMs >= SEEN_EVERY_MS) await signInSeen(this.#db, found.id, nowUtcMs);
    return { identity, newToken: null };
  }

  /** For a socket, which is opened with a cookie and gets no other: the sign-in as it is now. An open feed counts as use. */
  async stillSignedIn({ signInId }: Identity): Promise<Identity | null> {
    const found = await findSignInById(this.#db, signInId);
    const nowUtcMs = this.#nowUtcMs();
    if (!found || stateOfSignIn(found, false, nowUtcMs) === 'over') return null;
    if (nowUtcMs - found.seenUtcMs >= SEEN_EVERY_MS) await signInSeen(this.#db, signInId, nowUtcMs);
    return identityOf(found);
  }

  signOut({ signInId }: Identity): Promise<void> {
    return endSignIn(this.#db, signInId);
  }

  /** Every other sign-in of the account ends. @throws ApiProblem 400, 401, 429 */
  async changePassword({ accountId, signInId }: Identity, password: string, newPassword: string): Promise<Account> {
    const account = await findAccount(this.#db, accountId);
    if (!account) throw WRONG;
    await this.#check(account.login, password);
    const fault = faultOfPassword(newPassword, account.login);
    if (fault !== null) throw new ApiProblem(400, 'weak-password', fault);
    if (newPassword === password)
      throw new ApiProblem(400, 'same-password', 'That is the password that you have. Take another.');
    const passwordHash = await hashOfPassword(newPassword);
    const changed = await setPassword(this.#db, accountId, { passwordHash, passwordIsFirst: false }, signInId);
    if (!changed) throw WRONG;
    return changed;
  }

  async #check(login: string, password: string): Promise<{ id: string }> {
    const waitMs = this.#attempts.waitMs(login);
    if (waitMs > 0)
      throw new ApiProblem(
        429,
        'too-many-attempts',
        `Too many sign-ins of this login have failed. Wait ${Math.ceil(waitMs / 1000)} s, then try again.`,
      );
    // Counted in the same turn, before anything is waited for: many at once are not all free.
    this.#attempts.failed(login);
    const found = await findPassword(this.#db, login);
    const right = await isPassword(password, found?.passwordHash ?? null).catch((error: unknown) => {
      if (!(error instanceof TooManyWaiting)) throw error;
      throw new ApiProblem(
        429,
        'too-many-attempts',
        'Too many people are signing in at this moment. Try again in a few seconds.',
      );
    });
    if (!right || !found) throw WRONG;
    this.#attempts.succeeded(login);
    return found;
  }
}

export function meOf(account: Account): Me {
  const { id: accountId, name, roles, athleteId, passwordIsFirst } = account;
  return { access: 'accounts', accountId, name, roles, athleteId, passwordIsFirst };
}

function identityOf(found: Omit<FoundSignIn, 'withOld'>): Identity {
  const { id: signInId, accountId, name, roles, athleteId, passwordIsFirst } = found;
  return { signInId, accountId, name, roles, athleteId, passwordIsFirst };
}

function newToken(): string {
  return randomBytes(TOKEN_RANDOM_BYTES).toString('base64url');
}

function hashOf(token: string): Uint8Array {
  return createHash('sha256').update(token).digest();
}
