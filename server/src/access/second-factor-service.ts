/** A second factor of one's own account: one-time codes of an app. Turned on and off by its owner. */
import type { Account, SecondFactorOffer } from '@ambipede/shared';
import { ApiProblem, conflict } from '../errors.ts';
import { findAccount } from '../store/accounts.ts';
import type { Db } from '../store/database.ts';
import { removeSecondFactor, setSecondFactor } from '../store/second-factor.ts';
import { base32Of } from './base32.ts';
import type { Identity } from './identity.ts';
import { stepOfCode } from './one-time-code.ts';
import { SecondFactorOffers } from './second-factor-offers.ts';
import { WRONG_CODE, type ProofCheck } from './proof-check.ts';

/** As the app lists it. */
const ISSUER = 'Ambipede';

export class SecondFactorService {
  readonly #db: Db;
  readonly #nowUtcMs: () => number;
  readonly #proofs: ProofCheck;
  readonly #offers: SecondFactorOffers;

  constructor(db: Db, nowUtcMs: () => number, proofs: ProofCheck) {
    this.#db = db;
    this.#nowUtcMs = () => Math.round(nowUtcMs());
    this.#proofs = proofs;
    this.#offers = new SecondFactorOffers(this.#nowUtcMs);
  }

  /** @throws ApiProblem 401, 409, 429 */
  async offer({ accountId }: Identity, password: string): Promise<SecondFactorOffer> {
    const { login, secondFactorSinceUtcMs } = await this.#proofs.requirePassword(accountId, password);
    if (secondFactorSinceUtcMs !== null)
      throw conflict('second-factor-is-on', 'It is on already. Turn it off first, then set up another app.');
    const { key, expiresUtcMs } = this.#offers.make(accountId);
    const written = base32Of(key);
    // The format that apps for such codes read: common practice, no standard.
    const uri = `otpauth://totp/${ISSUER}:${encodeURIComponent(login)}?secret=${written}&issuer=${ISSUER}`;
    return { key: written, uri, expiresUtcMs };
  }

  /** Every other sign-in of the account ends. @throws ApiProblem 401, 409 */
  async turnOn({ accountId, signInId }: Identity, code: string): Promise<Account> {
    const key = this.#offers.keyFor(accountId);
    if (key === null)
      throw conflict('no-second-factor-offer', 'The key is no longer good. Begin again: a new one is shown.');
    const nowUtcMs = this.#nowUtcMs();
    const step = stepOfCode(key, code, nowUtcMs);
    if (step === null) throw WRONG_CODE;
    await setSecondFactor(this.#db, accountId, { key, sinceUtcMs: nowUtcMs, step }, signInId);
    this.#offers.drop(accountId);
    return this.#account(accountId);
  }

  /** Every other sign-in of the account ends. @throws ApiProblem 401, 429 */
  async turnOff({ accountId, signInId }: Identity, password: string, code: string): Promise<Account> {
    await this.#proofs.requirePassword(accountId, password, { code });
    await removeSecondFactor(this.#db, accountId, signInId);
    return this.#account(accountId);
  }

  async #account(id: string): Promise<Account> {
    const account = await findAccount(this.#db, id);
    if (!account) throw new ApiProblem(401, 'not-signed-in', 'The account is gone.');
    return account;
  }
}
