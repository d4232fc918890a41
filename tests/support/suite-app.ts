/** A server on a PostgreSQL of its own for all tests of a file, ended after them. */
import { afterAll, beforeAll } from 'vitest';
import type { Database } from '../../server/src/store/database.ts';
import { WITH_ACCOUNTS, startTestApp, type TestApp } from './test-app.ts';
import { startTestPostgres, type TestPostgres } from './test-postgres.ts';

export interface Suite {
  server: TestPostgres;
  database: Database;
  api: TestApp;
}

/** @param ready is given what was started, before the first test. @param options.access `open`: whoever calls may do everything */
export function useTestApp(
  ready: (suite: Suite) => unknown,
  options: { access: 'open' | 'accounts' } = { access: 'open' },
): void {
  let server: TestPostgres | undefined;
  let api: TestApp | undefined;
  beforeAll(async () => {
    server = await startTestPostgres();
    const database = await server.newDatabase();
    api = await startTestApp(database, options.access === 'accounts' ? { access: WITH_ACCOUNTS } : {});
    ready({ server, database, api });
  });
  afterAll(async () => {
    await api?.close();
    await server?.stop();
  });
}
