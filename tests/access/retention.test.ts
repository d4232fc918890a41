/** What is older than the keeper wants it kept goes, and nothing else. Regulation (EU) 2016/679, article 5 (1) (e). */
import { describe, expect, test } from 'vitest';
import type { ApiError, Retention } from '../../shared/src/index.ts';
import { monthsBefore } from '../../server/src/session/retention.ts';
import type { Database } from '../../server/src/store/database.ts';
import { createRawLog } from '../../server/src/store/raw-batches.ts';
import { removeOlderThan } from '../../server/src/store/retention.ts';
import { fillStore } from '../integration/backup-fixture.ts';
import { Person, newPerson } from '../support/people.ts';
import { makeRawBatch } from '../support/raw-batch.ts';
import { useTestApp } from '../support/suite-app.ts';
import type { TestApp } from '../support/test-app.ts';

let api: TestApp;
let database: Database;
useTestApp((suite) => ({ api, database } = suite), { access: 'accounts' });
const set = (who: Person, months: unknown) => who.ask<Retention & ApiError>('PUT', '/api/retention', { months });
const count = async (table: string): Promise<number> =>
  Number((await database.sql`select count(*) as n from ${database.sql(table)}`)[0]?.['n']);

describe('months before a time', () => {
  // A calendar's facts: Gregorian leap years.
  test.each([
    ['2026-11-26T10:00:00Z', 1, '2026-10-26T10:00:00Z'],
    ['2026-03-31T10:00:00Z', 1, '2026-02-28T10:00:00Z'],
    ['2024-03-31T10:00:00Z', 1, '2024-02-29T10:00:00Z'],
    ['2026-01-15T00:00:00Z', 13, '2024-12-15T00:00:00Z'],
    ['2024-02-29T23:59:59Z', 12, '2023-02-28T23:59:59Z'],
    ['2026-11-26T10:00:00Z', 600, '1976-11-26T10:00:00Z'],
  ])('%s less %i is %s', (at, months, expected) => {
    expect(new Date(monthsBefore(Date.parse(at), months)).toISOString()).toBe(new Date(expected).toISOString());
  });
});

describe('the retention', () => {
  test('is set by a keeper, within bounds', async () => {
    const suite = { database, url: api.url };
    const keeper = await newPerson(suite, ['keeper']);
    expect((await set(await newPerson(suite, ['coach', 'physio']), 12)).status).toBe(403);
    for (const months of [0, 601, 1.5, '12']) expect((await set(keeper, months)).status).toBe(400);
    expect((await set(keeper, 24)).body).toEqual({ months: 24, oldestUtcMs: null });
    expect((await set(keeper, null)).body.months).toBeNull();
  });

  test('removes sessions that ended before, with samples, notes and episodes of that time; the rest stays', async () => {
    const { db, sql } = database;
    await fillStore(database);
    // The first athlete's are of now, and so is what the last decision of the second says.
    const [young] = await sql`select athlete_id as id from sessions limit 1`;
    const now = Date.now();
    await sql`update sessions set started_utc_ms = ${now - 5000}, ended_utc_ms = ${now} where athlete_id = ${young!['id']}`;
    await sql`update annotations set at_utc_ms = ${now} where athlete_id = ${young!['id']}`;
    const [kept] = await sql`select id from return_episodes where athlete_id <> ${young!['id']} limit 1`;
    await sql`insert into return_decisions (episode_id, decided_utc_ms, decider_name, decision, reason)
      values (${kept!['id']}, ${now}, 'Somebody', 'Not yet.', 'The limit is not met.')`;
    const batch = { deviceId: 'young', firstUtcMs: now - 4000, endUtcMs: now - 3960 };
    await createRawLog(database).append([makeRawBatch(batch)]);
    const oldBatches = (await count('raw_batches')) - 1;
    const removed = await removeOlderThan(db, now - 60_000);
    expect(removed).toEqual({ sessions: 3, samples: oldBatches * 8, annotations: 6, episodes: 3 });
    expect(await count('sessions')).toBe(1);
    expect(await count('trials')).toBe(2);
    expect(await count('annotations')).toBe(2);
    expect(await count('raw_batches')).toBe(1);
    expect((await sql`select id from return_episodes`).map(({ id }) => id)).toEqual([kept!['id']]);
    // People, and who cares for them, are no measurements.
    expect(await count('athletes')).toBe(4);
    expect(await removeOlderThan(db, now - 60_000)).toEqual({ sessions: 0, samples: 0, annotations: 0, episodes: 0 });
  });

  test('keeps an open session however old, and its samples', async () => {
    const { db, sql } = database;
    const [athlete] = await sql`select id from athletes limit 1`;
    await sql`insert into sessions (athlete_id, started_utc_ms) values (${athlete!['id']}, 1000)`;
    const batch = { deviceId: 'in-open-session', firstUtcMs: 2000, endUtcMs: 2040 };
    await createRawLog(database).append([makeRawBatch(batch)]);
    await removeOlderThan(db, Date.now() - 60_000);
    expect(await sql`select from sessions where started_utc_ms = 1000`).toHaveLength(1);
    expect(await sql`select from raw_batches where device_id = 'in-open-session'`).toHaveLength(1);
  });
});
