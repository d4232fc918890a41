/** A whole server that asks for accounts, with the built pages, and a browser for each person. */
import { fileURLToPath } from 'node:url';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect } from 'vitest';
import type { Database } from '../../server/src/store/database.ts';
import { PASSWORD } from '../support/people.ts';
import { WITH_ACCOUNTS, startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';
import { launchChromium } from './chromium.ts';

const DIST = fileURLToPath(new URL('../../web/dist', import.meta.url));
export const TABLET = { width: 1024, height: 768 };
const START_LIMIT_MS = 60_000;
/** What a name would do that was taken for markup; a policy that stops it tells of it all the same. */
export const MARKUP = '<img src=x onerror="tell(\'script ran\')">';

export interface AccessSuite {
  api: TestApp;
  database: Database;
  /** A browser of its own, at the given hash. */
  open(hash?: string): Promise<Page>;
  /** Types login and password on the sign-in page. */
  signIn(page: Page, login: string, password?: string): Promise<void>;
}

declare global {
  interface Window {
    tell(what: string): void;
  }
}

/** After each test: no page has broken the server's policy of content, run a script out of data, or thrown. */
export function useAccessSuite(ready: (suite: AccessSuite) => unknown): void {
  let postgres: TestPostgres | undefined;
  let api: TestApp | undefined;
  let browser: Browser | undefined;
  const contexts: BrowserContext[] = [];
  const told: string[] = [];

  beforeAll(async () => {
    postgres = await startTestPostgres();
    const database = await postgres.newDatabase();
    api = await startTestApp(database, { webDir: DIST, access: WITH_ACCOUNTS });
    browser = await launchChromium();
    const { url } = api;
    await ready({
      ...{ api, database, signIn },
      open: async (hash = '#/') => {
        const context = await browser!.newContext({ viewport: TABLET });
        contexts.push(context);
        const page = await context.newPage();
        page.on('pageerror', (error) => told.push(String(error)));
        await watch(page, told);
        await page.goto(`${url}/${hash}`);
        return page;
      },
    });
  }, START_LIMIT_MS);
  afterEach(() => expect(told.splice(0)).toEqual([]));
  afterAll(async () => {
    for (const context of contexts) await context.close();
    await browser?.close();
    await api?.close();
    await postgres?.stop();
  });
}

/** Puts what a page must not do into `told`: breaches of the policy, and calls from data that was taken for script. */
export async function watch(page: Page, told: string[]): Promise<void> {
  await page.exposeFunction('tell', (what: string) => void told.push(what));
  await page.addInitScript(() => {
    document.addEventListener('securitypolicyviolation', ({ violatedDirective, sourceFile, lineNumber }) =>
      window.tell(`${violatedDirective} at ${sourceFile}:${lineNumber}`),
    );
  });
}

async function signIn(page: Page, login: string, password = PASSWORD): Promise<void> {
  await page.getByTestId('sign-in').waitFor();
  await page.getByLabel('Login').fill(login);
  await page.getByLabel('Password', { exact: true }).fill(password);
  await page.getByRole('button', { name: 'Sign in' }).click();
}
