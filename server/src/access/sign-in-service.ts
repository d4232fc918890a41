/** Signing in and out, and telling by the cookie who asks. */
import { createHash, randomBytes } from 'node:crypto';
import type { Account, Me, OwnSignIn, Role } from '@ambipede/shared';
import { ApiProblem } from '../errors.ts';
import { findAccount, setPassword } from '../store/accounts.ts';
import type { Db } from '../store/database.ts';
import {
  addSignIn,
  confirmSignIn,
  endOtherSignIns,
  endSignIn,
  endSignInOf,
  findSignIn,
  findSignInById,
  listSignIns,
  removeOldSignIns,
  rotateSignIn,
  signInSeen,
} from '../store/sign-ins.ts';
import type { FoundSignIn } from '../store/sign-ins.ts';
import type { Identity } from './identity.ts';
import { faultOfPassword, hashOfPassword } from './passwords.ts';
import { ProofCheck, WRONG } from './proof-check.ts';
import { IDLE_MS_MAX, SEEN_EVERY_MS, SIGN_IN_MS_MAX, stateOfSignIn } from './sign-in-life.ts';

/** 256 bits, as base64url: a cookie's value. */
const TOKEN_RANDOM_BYTES = 32;
const TOKEN_PATTERN = /^[A-Za-z0-9_-]{43}$/;

/** Whom and when a second factor is asked of. */
export interface SecondFactorPolicy {
  /** True on a server that others reach: whoever sits at the machine itself has its files anyway. */
  keepersNeedOne: boolean;
}

export interface SignInProofs {
  login: string;
  password: string;
  code?: string | undefined;
}

export interface Recognised {
  identity: Identity;
  /** To be put into the cookie in the place of the value that came; null: it stays. */
  newToken: string | null;
}

export class SignInService {
  readonly #db: Db;
  readonly #nowUtcMs: () => number;
  readonly proofs: ProofCheck;
  readonly #policy: SecondFactorPolicy;

  constructor(db: Db, nowUtcMs: () => number, policy: SecondFactorPolicy) {
    this.#db = db;
    this.#policy = policy;
    this.#nowUtcMs = () => Math.round(nowUtcMs());
    this.proofs = new ProofCheck(db, this.#nowUtcMs);
  }

  /** A new sign-in, never one that was there before: nobody can plant a cookie. @throws ApiProblem 401, 403, 429 */
  async signIn(
    { login, password, code }: SignInProofs,
    browser: string,
  ): Promise<{ account: Account; token: string; signInId: string }> {
    const found = await this.proofs.check(login.trim().toLowerCase(), password, { code });
    return this.open(found.id, browser);
  }

  /** A new sign-in for whoever has just shown who they are. */
  async open(accountId: string, browser: string): Promise<{ account: Account; token: string; signInId: string }> {
    const token = newToken();
    const nowUtcMs = this.#nowUtcMs();
    await this.#removeOld();
    const signInId = await addSignIn(this.#db, accountId, hashOf(token), nowUtcMs, browser);
    const account = await findAccount(this.#db, accountId);
    if (!account) throw WRONG;
    return { account, token, signInId };
  }

  /** One's own, the newest use first. */
  async list({ accountId, signInId }: Identity): Promise<OwnSignIn[]> {
    await this.#removeOld();
    return (await listSignIns(this.#db, accountId)).map((row) => ({ ...row, isThis: row.id === signInId }));
  }

  /** False when one has none such oneself. */
  end({ accountId }: Identity, id: string): Promise<boolean> {
    return endSignInOf(this.#db, accountId, id);
  }

  endOthers({ accountId, signInId }: Identity): Promise<void> {
    return endOtherSignIns(this.#db, accountId, signInId);
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
    const identity = this.#identityOf(found);
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
    return this.#identityOf(found);
  }

  signOut({ signInId }: Identity): Promise<void> {
    return endSignIn(this.#db, signInId);
  }

  /** Every other sign-in of the account ends. @throws ApiProblem 400, 401, 429 */
  async changePassword({ accountId, signInId }: Identity, password: string, newPassword: string): Promise<Account> {
    const account = await this.proofs.requirePassword(accountId, password);
    const fault = faultOfPassword(newPassword, account.login);
    if (fault !== null) throw new ApiProblem(400, 'weak-password', fault);
    if (newPassword === password)
      throw new ApiProblem(400, 'same-password', 'That is the password that you have. Take another.');
    const passwordHash = await hashOfPassword(newPassword);
    const proof = { passwordHash, passwordIsFirst: false, setUtcMs: this.#nowUtcMs() };
    const changed = await setPassword(this.#db, accountId, proof, signInId);
    if (!changed) throw WRONG;
    return changed;
  }

  meOf(account: Account): Me {
    const { id: accountId, name, roles, athleteId, passwordIsFirst, secondFactorSinceUtcMs } = account;
    const secondFactor = secondFactorSinceUtcMs !== null ? 'on' : this.#isDue(account) ? 'due' : 'off';
    return { access: 'accounts', accountId, name, roles, athleteId, passwordIsFirst, secondFactor };
  }

  #isDue({
    roles,
    secondFactorSinceUtcMs,
  }: {
    roles: readonly Role[];
    secondFactorSinceUtcMs: number | null;
  }): boolean {
    return this.#policy.keepersNeedOne && secondFactorSinceUtcMs === null && roles.includes('keeper');
  }

  #identityOf(found: Omit<FoundSignIn, 'withOld'>): Identity {
    const { id: signInId, accountId, name, roles, athleteId, passwordIsFirst } = found;
    return { signInId, accountId, name, roles, athleteId, passwordIsFirst, secondFactorIsDue: this.#isDue(found) };
  }

  #removeOld(): Promise<void> {
    const nowUtcMs = this.#nowUtcMs();
    return removeOldSignIns(this.#db, nowUtcMs - SIGN_IN_MS_MAX, nowUtcMs - IDLE_MS_MAX);
  }
}

function newToken(): string {
  return randomBytes(TOKEN_RANDOM_BYTES).toString('base64url');
}

function hashOf(token: string): Uint8Array {
  return createHash('sha256').update(token).digest();
}
