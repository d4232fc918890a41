/** What the mock server answers about the accounts, consents and audit of an invented club, and the scenes of those pages. */
import type { Account, AuditEntry, Carer, Consent, Me, OwnSignIn, SecondFactorOffer } from '@ambipede/shared';
import { AUDIT_PAGE_ENTRIES, NOT_SIGNED_IN } from '@ambipede/shared';
import type { Page } from 'playwright-core';
import type { Scene } from './page-scenes.ts';
import type { World } from './page-world.ts';
import { OPEN_DEMO } from './web-mock-server.ts';

const UTC_MS = Date.UTC(2026, 8, 1, 16);
const KEEPER: Me = {
  access: 'accounts',
  accountId: 'k1',
  name: 'Ada Brook',
  roles: ['keeper', 'coach'],
  athleteId: null,
  passwordIsFirst: false,
  secondFactor: 'off',
};

const accountOf = (id: string, name: string, changes: Partial<Account>): Account => ({
  ...{ id, login: id, name, roles: ['coach'], athleteId: null },
  ...{ createdUtcMs: UTC_MS, closedUtcMs: null, passwordIsFirst: false },
  ...{ passwordSetUtcMs: UTC_MS, secondFactorSinceUtcMs: null, ...changes },
});
const ACCOUNTS: Account[] = [
  accountOf('k1', 'Ada Brook', { roles: ['keeper', 'coach'] }),
  accountOf('p1', 'Bo Lund', { roles: ['physio'], passwordIsFirst: true, secondFactorSinceUtcMs: UTC_MS }),
  accountOf('c2', 'Cleo Marsh', { closedUtcMs: UTC_MS + 1 }),
  accountOf('a1', 'Mira Sand', { roles: ['athlete'], athleteId: 'a1' }),
];
const OWN_SIGN_INS: OwnSignIn[] = [
  { id: 's1', startedUtcMs: UTC_MS, seenUtcMs: UTC_MS + 60_000, browser: 'Firefox, Linux', isThis: true },
  { id: 's2', startedUtcMs: UTC_MS, seenUtcMs: UTC_MS, browser: '', isThis: false },
];
const KEY = 'GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ';
const OFFER: SecondFactorOffer = {
  ...{ key: KEY, uri: `otpauth://totp/Ambipede:ada?secret=${KEY}&issuer=Ambipede` },
  expiresUtcMs: UTC_MS + 600_000,
};
const CARERS: Carer[] = [{ accountId: 'k1', name: 'Ada Brook', roles: ['keeper', 'coach'], sinceUtcMs: UTC_MS }];
const consentOf = (id: string, changes: Partial<Consent>): Consent => ({
  ...{ id, athleteId: 'a1', purpose: 'recording', givenByName: 'Ines Sand', guardianOf: 'mother' },
  ...{ givenUtcMs: UTC_MS, recordedByName: 'Ada Brook', withdrawnUtcMs: null, withdrawnByName: null, ...changes },
});
const CONSENTS: Consent[] = [
  consentOf('n2', {}),
  consentOf('n1', { withdrawnUtcMs: UTC_MS, withdrawnByName: 'Ines Sand' }),
];
const AUDIT = Array.from({ length: AUDIT_PAGE_ENTRIES }, (_, i): AuditEntry => ({
  id: 500 - i,
  utcMs: UTC_MS - i * 60_000,
  accountName: i % 3 === 1 ? null : 'Ada Brook',
  accountId: i % 3 === 1 ? null : 'k1',
  action: i % 3 === 1 ? 'sign-in' : 'GET /api/athletes/:id/trials',
  athleteId: i % 3 === 1 ? null : 'a1',
  refusedStatus: i % 3 === 1 ? 401 : null,
}));

/** The demonstration again, as before any of these scenes. */
export function forgetAccess({ server }: World): void {
  server.refusals.clear();
  server.answers.set('GET /api/me', OPEN_DEMO);
}

function keeper({ server }: World): void {
  const told: Record<string, unknown> = {
    'GET /api/me': KEEPER,
    'GET /api/accounts': ACCOUNTS,
    'GET /api/me/sign-ins': OWN_SIGN_INS,
    'POST /api/me/second-factor': OFFER,
    'GET /api/audit': AUDIT,
    'GET /api/athletes/a1/consents': CONSENTS,
    'GET /api/athletes/a1/carers': CARERS,
    'GET /api/retention': { months: 36, oldestUtcMs: UTC_MS },
    'POST /api/accounts/p1/password': { ...ACCOUNTS[1]!, firstPassword: 'mnp2q-rst4u-vwx6y-z9abc' },
    'POST /api/sensors/pelvis-01/pairing-code': {
      ...{ deviceId: 'pelvis-01', code: '7KQM3XWP' },
      expiresUtcMs: Date.now() + 600_000,
    },
  };
  for (const [question, answer] of Object.entries(told)) server.answers.set(question, answer);
}

function nobody({ server }: World): void {
  const refusal = { status: 401, code: NOT_SIGNED_IN, message: 'You are not signed in, or no longer.' };
  server.refusals.set('GET /api/me', refusal);
  const wrong = { status: 401, code: 'wrong-login-or-password', message: 'Login and password do not belong together.' };
  server.refusals.set('POST /api/sign-in', wrong);
}

function firstTime(world: World): void {
  world.server.answers.set('GET /api/me', { ...KEEPER, passwordIsFirst: true });
}

function due(world: World): void {
  keeper(world);
  world.server.answers.set('GET /api/me', { ...KEEPER, secondFactor: 'due' });
}

async function showKey(page: Page): Promise<void> {
  await page.getByLabel('Password that you have now').last().fill('lanes, tartan, six');
  await page.getByRole('button', { name: 'Show the key' }).click();
  await page.getByTestId('second-factor-key').waitFor();
  await page.getByRole('button', { name: 'Turn them on' }).click();
  await page.locator('[aria-invalid=true]').first().waitFor();
}

async function setUpSecondFactor(page: Page): Promise<void> {
  await page.getByTestId('own-sign-in').first().waitFor();
  await page.getByTestId('second-factor-open').click();
  await showKey(page);
}

async function signInWrongly(page: Page): Promise<void> {
  await page.getByLabel('Login').fill('ada');
  await page.getByLabel('Password', { exact: true }).fill('not this one');
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.getByText('do not belong together').waitFor();
}

async function leaveFieldsEmpty(page: Page): Promise<void> {
  await page.getByTestId('password-form').locator('button.main').click();
  await page.locator('[aria-invalid=true]').first().waitFor();
}

async function openAccounts(page: Page): Promise<void> {
  const row = page.locator('[data-testid=account-row][data-login=p1]');
  await row.getByTestId('account-password').getByRole('button').click();
  await row.getByRole('button', { name: 'Yes, new password' }).click();
  await page.getByTestId('first-password-shown').waitFor();
  await page.getByTestId('account-add').click();
  await page
    .getByTestId('account-form')
    .getByRole('checkbox', { name: /^Athlete/ })
    .check();
  await page.getByTestId('account-form').locator('button.main').click();
  await page.locator('[aria-invalid=true]').first().waitFor();
}

async function openConsents(page: Page): Promise<void> {
  await page.getByTestId('consent-record').click();
  await page.getByTestId('consent-form').getByRole('radio', { name: 'A guardian' }).check();
  await page.getByTestId('consent-form').locator('button.main').click();
  await page.locator('[aria-invalid=true]').first().waitFor();
  await page.getByTestId('consent-withdraw').click();
  await page.getByTestId('erase-open').click();
  await page.getByTestId('erase-form').waitFor();
}

async function makeCode(page: Page): Promise<void> {
  await page.getByTestId('pairing-make').first().click();
  await page.getByTestId('pairing-code').waitFor();
}

export const SCENES_OF_ACCESS = {
  'sign-in': { hash: '#/history/a1', shows: 'sign-in', world: nobody, then: signInWrongly },
  'first-password': { hash: '#/', shows: 'first-password', world: firstTime, then: leaveFieldsEmpty },
  'second-factor-due': { hash: '#/', shows: 'second-factor-due', world: due, then: showKey },
  account: { hash: '#/account', shows: 'account', world: keeper, then: setUpSecondFactor },
  accounts: { hash: '#/accounts', shows: 'account-row', world: keeper, then: openAccounts },
  audit: { hash: '#/audit', shows: 'audit-entry', world: keeper },
  consent: { hash: '#/consent/a1', shows: 'consent', world: keeper, then: openConsents },
  retention: { hash: '#/retention', shows: 'retention', world: keeper },
  pairing: { hash: '#/sensors', shows: 'sensor-row', world: keeper, then: makeCode },
} as const satisfies Record<string, Scene>;
