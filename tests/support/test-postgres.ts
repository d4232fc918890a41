/** Databases for tests: one PostgreSQL per test file, each database a copy of a migrated template. */
import { randomUUID } from 'node:crypto';
import path from 'node:path';
import postgres from 'postgres';
import { connect, migrateDatabase } from '../../server/src/store/database.ts';
import type { Database } from '../../server/src/store/database.ts';
import { startEmbeddedPostgres } from '../../server/src/store/embedded-postgres/supervisor.ts';
import type { EmbeddedPostgres } from '../../server/src/store/embedded-postgres/supervisor.ts';
import { makeTempDir } from './temp-dir.ts';

export interface TestPostgres {
  /** The embedded one; null for a server given by DATABASE_URL. */
  own: EmbeddedPostgres | null;
  /** Connection string of a fresh database with all tables. */
  newUrl(): Promise<string>;
  newDatabase(): Promise<Database>;
  stop(): Promise<void>;
}

const quietLog = { info: () => undefined, error: () => undefined };

/** @param serverUrl an external server whose role may create databases; by default an embedded one */
export async function startTestPostgres(serverUrl?: string): Promise<TestPostgres> {
  const dir = await makeTempDir();
  const own = serverUrl ? null : await startEmbeddedPostgres(path.join(dir.folder, 'data'), quietLog);
  const adminUrl = own?.url ?? serverUrl ?? '';
  const admin = postgres(adminUrl, { max: 1, onnotice: () => undefined });
  const created: string[] = [];
  const opened: Database[] = [];
  const create = async (template?: string): Promise<string> => {
    const name = `ambipede_test_${randomUUID().replaceAll('-', '')}`;
    await (template
      ? admin`create database ${admin(name)} template ${admin(template)}`
      : admin`create database ${admin(name)}`);
    created.push(name);
    return name;
  };
  const urlOf = (name: string): string => Object.assign(new URL(adminUrl), { pathname: `/${name}` }).href;

  const template = await create();
  await migrateDatabase(urlOf(template));
  const newUrl = async (): Promise<string> => urlOf(await create(template));
  return {
    own,
    newUrl,
    newDatabase: async () => {
      const database = connect(await newUrl());
      opened.push(database);
      return database;
    },
    stop: async () => {
      await Promise.all(opened.map((database) => database.close()));
      // An embedded server goes away as a whole.
      if (!own) for (const name of created.reverse()) await admin`drop database if exists ${admin(name)} with (force)`;
      await admin.end({ timeout: 1 });
      await own?.stop();
      await dir.remove();
    },
  };
}
