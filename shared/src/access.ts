/**
 * Who somebody is, and what they may see and do.
 *
 *   GET    /api/me                                      Me               (401 `not-signed-in` without a sign-in)
 *   POST   /api/sign-in          SignIn              -> Me, and a cookie
 *   POST   /api/sign-out                             -> {signedOut: true}
 *   POST   /api/me/password      PasswordChange      -> Me: every other sign-in of the account ends
 *   GET    /api/me/sign-ins                             OwnSignIn[]      the newest use first
 *   DELETE /api/me/sign-ins                          -> OwnSignIn[]: all but this one end
 *   DELETE /api/me/sign-ins/:id                      -> OwnSignIn[]: this one ends
 *   POST   /api/me/second-factor {password}          -> SecondFactorOffer
 *   PUT    /api/me/second-factor {code}              -> Me: it is on, and every other sign-in of the account ends
 *   DELETE /api/me/second-factor {password, code}    -> Me: it is off
 *   GET    /api/accounts                                Account[]        keeper
 *   POST   /api/accounts         NewAccount          -> AccountWithPassword  keeper: the first password is shown once
 *   PATCH  /api/accounts/:id     AccountChange       -> Account          keeper
 *   POST   /api/accounts/:id/password                -> AccountWithPassword  keeper: a new one, shown once
 *   DELETE /api/accounts/:id/second-factor           -> Account          keeper: for whoever has lost the phone
 *   GET    /api/athletes/:id/carers                     Carer[]
 *   PUT    /api/athletes/:id/carers/:accountId       -> Carer[]
 *   DELETE /api/athletes/:id/carers/:accountId       -> Carer[]
 *   GET    /api/athletes/:id/consents                   Consent[]        newest first
 *   POST   /api/athletes/:id/consents  NewConsent    -> Consent
 *   POST   /api/athletes/:id/consents/:consentId/withdrawal  ConsentWithdrawal -> Consent
 *   POST   /api/sensors/:deviceId/pairing-code       -> PairingCode
 *   POST   /api/pairing          PairingRequest      -> {token}          the device itself, without a sign-in
 *   GET    /api/athletes/:id/export/everything.tar   everything about the athlete, in open formats
 *   DELETE /api/athletes/:id     ErasureRequest      -> Erasure          keeper
 *   GET    /api/retention                               Retention        keeper
 *   PUT    /api/retention        RetentionChange     -> Retention        keeper
 *   GET    /api/audit?athlete=&before=                  AuditEntry[]     keeper; newest first, a page at a time
 */

/** What an account is for. One account can have several: often the coach also keeps the server. */
export const ROLES = ['keeper', 'coach', 'physio', 'athlete'] as const;
export type Role = (typeof ROLES)[number];

/** What somebody may do with the data of one athlete. */
export const ATHLETE_RIGHTS = [
  /** Know the name, as the roster shows it. */
  'know',
  /** See sessions, trials and history. */
  'see',
  /** Start and stop sessions and trials, tag them, import recordings. */
  'measure',
  /** See and write notes of injury and pain, see return episodes. */
  'see-health',
  /** Write return episodes, criteria and decisions. */
  'write-health',
  /** Record consent, and its withdrawal. */
  'consent',
  /** Say who cares for the athlete. */
  'assign',
  /** Take out everything that is stored. */
  'export-all',
  /** Erase everything that is stored. */
  'erase',
] as const;
export type AthleteRight = (typeof ATHLETE_RIGHTS)[number];

/** What an athlete, or the guardian of a minor, agrees to. */
export const CONSENT_PURPOSES = ['recording', 'health to coach'] as const;
export type ConsentPurpose = (typeof CONSENT_PURPOSES)[number];

export const LOGIN_CHARACTERS_MAX = 64;
/** ASVS 4.0.3, 2.1.1 and 2.1.2. */
export const PASSWORD_CHARACTERS_MIN = 12;
export const PASSWORD_CHARACTERS_MAX = 128;
export const PERSON_NAME_CHARACTERS_MAX = 100;
/** A password that somebody else gave is good for so long (ASVS 4.0.3, 2.3.1). */
export const FIRST_PASSWORD_DAYS = 7;
/** A sign-in ends without any request for so long (ASVS 4.0.3, 3.3.2, level 2). */
export const SIGN_IN_IDLE_MS = 30 * 60_000;
/** Of a one-time code. */
export const CODE_DIGITS = 6;
export const ACCOUNTS_MAX = 1000;
export const AUDIT_PAGE_ENTRIES = 100;

export interface Me {
  /** `open`: a demonstration without accounts, on this machine alone. */
  access: 'accounts' | 'open';
  accountId: string | null;
  name: string;
  roles: Role[];
  /** Of an account with the role athlete. */
  athleteId: string | null;
  /** The password was given by somebody else: it is to be changed before anything else can be done. */
  passwordIsFirst: boolean;
  /** `due`: an account of a keeper, on a server that others reach. Nothing else can be done before it is on. */
  secondFactor: 'on' | 'off' | 'due';
}

export interface SignIn {
  login: string;
  password: string;
  /** Of an account with a second factor: asked for by the error `code-needed`. */
  code?: string;
}

/** A browser in which one is signed in oneself. */
export interface OwnSignIn {
  id: string;
  startedUtcMs: number;
  seenUtcMs: number;
  /** In rough words; empty when it is not known. */
  browser: string;
  /** The one that asks. */
  isThis: boolean;
}

/** For the app that makes the codes (RFC 6238). It is not on before a right code has come back. */
export interface SecondFactorOffer {
  /** The key in base32, as it is typed. */
  key: string;
  /** The same as a link, and for a picture of it. */
  uri: string;
  expiresUtcMs: number;
}

export interface PasswordChange {
  password: string;
  newPassword: string;
}

export interface Account {
  id: string;
  login: string;
  name: string;
  roles: Role[];
  athleteId: string | null;
  createdUtcMs: number;
  /** No longer able to sign in since then. */
  closedUtcMs: number | null;
  /** The password was given by the keeper and has not been changed since. */
  passwordIsFirst: boolean;
  passwordSetUtcMs: number;
  /** Null: the password alone opens the account. */
  secondFactorSinceUtcMs: number | null;
}
export type NewAccount = Pick<Account, 'login' | 'name' | 'roles' | 'athleteId'>;
/** What is not named stays as it is. Changed roles or `closed` end every sign-in of the account. */
export type AccountChange = Partial<Pick<Account, 'name' | 'roles'>> & { closed?: boolean };
export interface AccountWithPassword extends Account {
  /** Shown this once; it has to be changed at the first sign-in. */
  firstPassword: string;
}

/** Somebody with an account who cares for an athlete. */
export interface Carer {
  accountId: string;
  name: string;
  roles: Role[];
  sinceUtcMs: number;
}

export interface Consent {
  id: string;
  athleteId: string;
  purpose: ConsentPurpose;
  /** Who agreed: the athlete, or the guardian of a minor. */
  givenByName: string;
  /** How a guardian stands to the athlete ("mother"); null when it was the athlete. */
  guardianOf: string | null;
  givenUtcMs: number;
  /** The account that wrote it down; null in the demonstration. */
  recordedByName: string | null;
  withdrawnUtcMs: number | null;
  withdrawnByName: string | null;
}
export type NewConsent = Pick<Consent, 'purpose' | 'givenByName' | 'guardianOf'>;
export interface ConsentWithdrawal {
  /** Who took it back. */
  byName: string;
}

export interface AuditEntry {
  id: number;
  utcMs: number;
  /** Null: nobody was signed in, or the account does not exist any more. */
  accountName: string | null;
  accountId: string | null;
  /** Method and route, or what happened: `GET /api/trials/:id`, `sign-in`. */
  action: string;
  athleteId: string | null;
  /** HTTP status of the answer to a refused request; null for what was allowed. */
  refusedStatus: number | null;
}

/** Shown on the screen of whoever looks after the sensors, typed at the device. */
export interface PairingCode {
  deviceId: string;
  code: string;
  expiresUtcMs: number;
}
export interface PairingRequest {
  deviceId: string;
  /** Blanks, hyphens and lower case do not matter. */
  code: string;
}

export interface ErasureRequest {
  /** The athlete's name, typed by whoever erases: it has to be the same. */
  name: string;
}
export interface Erasure {
  /** How many of each kind are gone: `sessions`, `samples` and so on. */
  erased: Record<string, number>;
  /** What is left on purpose, in plain sentences. */
  remains: string[];
}

export const RETENTION_MONTHS_MAX = 600;
export interface Retention {
  /** Sessions that ended longer ago are removed, with all that belongs to them. Null: kept until somebody erases them. */
  months: number | null;
  /** Start of the oldest session; null: there is none. */
  oldestUtcMs: number | null;
}
export type RetentionChange = Pick<Retention, 'months'>;

/** Codes of errors on which a page has to ask for a sign-in. */
export const NOT_SIGNED_IN = 'not-signed-in';
/** 403: the first password has to be changed. */
export const PASSWORD_IS_FIRST = 'password-is-first';
/** 401: the password is right, and a one-time code belongs to it. */
export const CODE_NEEDED = 'code-needed';
/** 403: an account of a keeper needs a second factor first. */
export const SECOND_FACTOR_IS_DUE = 'second-factor-is-due';
/** 403: the account may not do it, or may not see it. */
export const NOT_ALLOWED = 'not-allowed';
