/** What the pages of accounts, consent and privacy ask of the server. */
import type {
  Account,
  AccountChange,
  AccountWithPassword,
  AuditEntry,
  Carer,
  Consent,
  Erasure,
  Me,
  NewAccount,
  NewConsent,
  OwnSignIn,
  PairingCode,
  PasswordChange,
  Retention,
  SecondFactorOffer,
  SignIn,
} from '@ambipede/shared';
import { request } from '../api.ts';

const at = encodeURIComponent;
const ofAthlete = (id: string): string => `/api/athletes/${at(id)}`;

export const accessApi = {
  signIn: (typed: SignIn) => request<Me>('POST', '/api/sign-in', typed),
  signOut: () => request<{ signedOut: true }>('POST', '/api/sign-out'),
  changePassword: (change: PasswordChange) => request<Me>('POST', '/api/me/password', change),

  ownSignIns: () => request<OwnSignIn[]>('GET', '/api/me/sign-ins'),
  endOwnSignIn: (id: string) => request<OwnSignIn[]>('DELETE', `/api/me/sign-ins/${at(id)}`),
  endOtherSignIns: () => request<OwnSignIn[]>('DELETE', '/api/me/sign-ins'),
  offerSecondFactor: (password: string) => request<SecondFactorOffer>('POST', '/api/me/second-factor', { password }),
  secondFactorOn: (code: string) => request<Me>('PUT', '/api/me/second-factor', { code }),
  secondFactorOff: (typed: { password: string; code: string }) => request<Me>('DELETE', '/api/me/second-factor', typed),

  accounts: () => request<Account[]>('GET', '/api/accounts'),
  addAccount: (account: NewAccount) => request<AccountWithPassword>('POST', '/api/accounts', account),
  changeAccount: (id: string, change: AccountChange) => request<Account>('PATCH', `/api/accounts/${at(id)}`, change),
  newPassword: (id: string) => request<AccountWithPassword>('POST', `/api/accounts/${at(id)}/password`),

  takeSecondFactor: (id: string) => request<Account>('DELETE', `/api/accounts/${at(id)}/second-factor`),

  carers: (athleteId: string) => request<Carer[]>('GET', `${ofAthlete(athleteId)}/carers`),
  addCarer: (athleteId: string, accountId: string) =>
    request<Carer[]>('PUT', `${ofAthlete(athleteId)}/carers/${at(accountId)}`),
  removeCarer: (athleteId: string, accountId: string) =>
    request<Carer[]>('DELETE', `${ofAthlete(athleteId)}/carers/${at(accountId)}`),

  consents: (athleteId: string) => request<Consent[]>('GET', `${ofAthlete(athleteId)}/consents`),
  addConsent: (athleteId: string, consent: NewConsent) =>
    request<Consent>('POST', `${ofAthlete(athleteId)}/consents`, consent),
  withdrawConsent: (athleteId: string, consentId: string, byName: string) =>
    request<Consent>('POST', `${ofAthlete(athleteId)}/consents/${at(consentId)}/withdrawal`, { byName }),

  /** For a link: the browser saves it. */
  everythingPath: (athleteId: string) => `${ofAthlete(athleteId)}/export/everything.tar`,
  erase: (athleteId: string, name: string) => request<Erasure>('DELETE', ofAthlete(athleteId), { name }),
  retention: () => request<Retention>('GET', '/api/retention'),
  setRetention: (months: number | null) => request<Retention>('PUT', '/api/retention', { months }),
  pairingCode: (deviceId: string) => request<PairingCode>('POST', `/api/sensors/${at(deviceId)}/pairing-code`),
  audit: (athleteId: string | null, beforeId: number | null) => {
    const query = new URLSearchParams();
    if (athleteId !== null) query.set('athlete', athleteId);
    if (beforeId !== null) query.set('before', String(beforeId));
    return request<AuditEntry[]>('GET', `/api/audit?${query.toString()}`);
  },
};
