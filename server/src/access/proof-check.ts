/** Whether somebody shows what an account asks for: the password, and the code of a second factor. Failures slow down those that follow. */
import { CODE_NEEDED, FIRST_PASSWORD_DAYS, type Account } from '@ambipede/shared';
import { ApiProblem } from '../errors.ts';
import { findAccount, findProofs, type Proofs } from '../store/accounts.ts';
import type { Db } from '../store/database.ts';
import { takeStep } from '../store/second-factor.ts';
import { Attempts } from './attempts.ts';
import { stepOfCode } from './one-time-code.ts';
import { TooManyWaiting, isPassword } from './passwords.ts';

/** One answer whatever was wrong: it does not tell which logins exist. */
export const WRONG = new ApiProblem(
  401,
  'wrong-login-or-password',
  'Login and password do not belong together. Try again; the keeper can give a new password.',
);

export const WRONG_CODE = new ApiProblem(
  401,
  'wrong-code',
  'The code is not the one that the app shows now. Wait for the next one, check that the clocks of phone and server are right, and try again.',
);
export const CODE_USED_BEFORE = 'code-used-before';

const FIRST_PASSWORD_MS = FIRST_PASSWORD_DAYS * 24 * 3_600_000;

export class ProofCheck {
  readonly #db: Db;
  readonly #nowUtcMs: () => number;
  readonly #attempts: Attempts;

  constructor(db: Db, nowUtcMs: () => number) {
    this.#db = db;
    this.#nowUtcMs = nowUtcMs;
    this.#attempts = new Attempts(nowUtcMs);
  }

  /** Of whoever is signed in, before something that a forgotten tablet must not do. @throws ApiProblem 401, 403, 429 */
  async requirePassword(
    accountId: string,
    password: string,
    codeAsked: { code: string | undefined } | null = null,
  ): Promise<Account> {
    const account = await findAccount(this.#db, accountId);
    if (!account) throw WRONG;
    await this.check(account.login, password, codeAsked);
    return account;
  }

  /** @param codeAsked null: the password alone is asked for. @throws ApiProblem 401, 403, 429 */
  async check(
    login: string,
    password: string,
    codeAsked: { code: string | undefined } | null,
  ): Promise<{ id: string }> {
    const waitMs = this.#attempts.waitMs(login);
    if (waitMs > 0)
      throw new ApiProblem(
        429,
        'too-many-attempts',
        `Too many sign-ins of this login have failed. Wait ${Math.ceil(waitMs / 1000)} s, then try again.`,
      );
    // Counted in the same turn, before anything is waited for: many at once are not all free.
    this.#attempts.failed(login);
    const found = await findProofs(this.#db, login);
    const right = await isPassword(password, found?.passwordHash ?? null).catch((error: unknown) => {
      if (!(error instanceof TooManyWaiting)) throw error;
      throw new ApiProblem(
        429,
        'too-many-attempts',
        'Too many people are signing in at this moment. Try again in a few seconds.',
      );
    });
    if (!right || !found) throw WRONG;
    this.#refuseOldFirstPassword(found);
    if (codeAsked !== null) await this.#requireCode(found, codeAsked.code);
    this.#attempts.succeeded(login);
    return found;
  }

  #refuseOldFirstPassword({ passwordIsFirst, passwordSetUtcMs }: Proofs): void {
    if (!passwordIsFirst || this.#nowUtcMs() - passwordSetUtcMs < FIRST_PASSWORD_MS) return;
    throw new ApiProblem(
      403,
      'first-password-over',
      `This first password was good for ${FIRST_PASSWORD_DAYS} days, and they are over. Ask a keeper for a new one.`,
    );
  }

  async #requireCode({ id, secondFactorKey }: Proofs, code: string | undefined): Promise<void> {
    if (secondFactorKey === null) return;
    if (code === undefined)
      throw new ApiProblem(401, CODE_NEEDED, 'Type the code that your app shows for this server now.');
    const step = stepOfCode(secondFactorKey, code, this.#nowUtcMs());
    if (step === null) throw WRONG_CODE;
    if (!(await takeStep(this.#db, id, step)))
      throw new ApiProblem(401, CODE_USED_BEFORE, 'This code has been used. Wait for the next one, and type that.');
  }
}
