import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { CHANNELS_ACCEL_GYRO, CHANNELS_WITH_MAGN, MAGN_SCALE_NONE } from '../../firmware-protocol/src/layout.ts';
import { createAthlete } from '../../server/src/store/athletes.ts';
import type { Database } from '../../server/src/store/database.ts';
import { createRawLog, durableUntilUtcMs, loadRawBatches } from '../../server/src/store/raw-batches.ts';
import { placeSensor } from '../../server/src/store/sensors.ts';
import { makeRawBatch } from '../support/raw-batch.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import type { TestPostgres } from '../support/test-postgres.ts';
import { waitUntil } from '../support/wait-until.ts';

const EXTERNAL = process.env['DATABASE_URL'];

describe.each([
  { name: 'the embedded PostgreSQL', url: undefined, run: true },
  {
    name: `the PostgreSQL of DATABASE_URL${EXTERNAL ? '' : ' (not run: DATABASE_URL is not set)'}`,
    url: EXTERNAL,
    run: Boolean(EXTERNAL),
  },
])('raw samples in $name', ({ url, run }) => {
  let server: TestPostgres;
  let database: Database;
  beforeAll(async () => {
    if (run) server = await startTestPostgres(url);
  });
  afterAll(() => server?.stop());
  const fresh = async (): Promise<Database> => (database = await server.newDatabase());
  const everything = (deviceId = 'device-a') => loadRawBatches(database.db, deviceId, 0, Infinity);

  test.skipIf(!run)('come back byte for byte and number for number', async () => {
    const log = createRawLog(await fresh());
    const batches = [
      makeRawBatch(),
      makeRawBatch({
        firstSequence: 8,
        firstTickUs: 2 ** 53 - 2,
        crc32c: 0xffffffff,
        firstUtcMs: 1_700_000_000_040.123,
      }),
      makeRawBatch({ deviceId: 'device-b', payload: new Uint8Array(96).fill(0x5c) }),
    ];
    await log.append(batches);
    const stored = [...(await everything()), ...(await everything('device-b'))];
    expect(stored.map((batch) => ({ ...batch, payload: new Uint8Array(batch.payload) }))).toEqual(batches);
  });

  test.skipIf(!run)('keep magnetometer values and their scale, and are without one where nothing is said', async () => {
    const log = createRawLog(await fresh());
    const batch = makeRawBatch({ channels: CHANNELS_WITH_MAGN, magnScale: 1.5e-7 });
    expect(batch.payload).toHaveLength(8 * 18);
    await log.append([batch]);
    const [stored] = await everything();
    expect(stored && { ...stored, payload: new Uint8Array(stored.payload) }).toEqual(batch);
    // A row of a time when there were no such columns.
    await database.sql`
      insert into raw_batches (device_id, boot_id, first_sequence, count, first_tick_us, interval_us, first_utc_ms, end_utc_ms,
        accel_scale, gyro_scale, crc32c, payload)
      values ('device-b', 1, 0, 1, 0, 5000, 0, 5, 1, 1, 0, ${Buffer.alloc(12)})`;
    const [older] = await everything('device-b');
    expect([older?.channels, older?.magnScale]).toEqual([CHANNELS_ACCEL_GYRO, MAGN_SCALE_NONE]);
  });

  test.skipIf(!run)('appended again are stored once', async () => {
    const log = createRawLog(await fresh());
    const batches = [makeRawBatch(), makeRawBatch({ firstSequence: 8 })];
    await log.append(batches);
    await log.append(batches);
    await log.append([...batches, makeRawBatch({ firstSequence: 16 })]);
    expect((await everything()).map((batch) => batch.firstSequence)).toEqual([0, 8, 16]);
  });

  test.skipIf(!run)('that overlap are refused, and with them everything of the same append', async () => {
    const log = createRawLog(await fresh());
    await log.append([makeRawBatch()]);
    const other = makeRawBatch({ deviceId: 'device-b' });
    await expect(log.append([other, makeRawBatch({ firstSequence: 7 })])).rejects.toThrow(/overlap/);
    await expect(log.append([other, makeRawBatch({ count: 7 })])).rejects.toThrow(/overlap/);
    await expect(log.append([makeRawBatch({ firstSequence: 8 }), makeRawBatch({ firstSequence: 15 })])).rejects.toThrow(
      /overlap/,
    );
    expect(await everything('device-b')).toEqual([]);
    expect(await everything()).toHaveLength(1);
  });

  test.skipIf(!run)('may leave a gap', async () => {
    const log = createRawLog(await fresh());
    await log.append([makeRawBatch(), makeRawBatch({ firstSequence: 100 })]);
    expect(await log.streamEnd('device-a', 4_000_000_001)).toEqual({
      nextSequence: 108,
      endUtcMs: makeRawBatch({ firstSequence: 100 }).endUtcMs,
    });
  });

  test.skipIf(!run)('have an end per boot, and none for a stream never stored', async () => {
    const log = createRawLog(await fresh());
    await log.append([makeRawBatch({ bootId: 1 }), makeRawBatch({ bootId: 2, count: 3 })]);
    expect((await log.streamEnd('device-a', 1))?.nextSequence).toBe(8);
    expect((await log.streamEnd('device-a', 2))?.nextSequence).toBe(3);
    expect(await log.streamEnd('device-a', 3)).toBeNull();
    expect(await durableUntilUtcMs(database.db, ['device-a', 'nobody'])).toEqual(
      new Map([['device-a', makeRawBatch().endUtcMs]]),
    );
    expect(await durableUntilUtcMs(database.db, [])).toEqual(new Map());
  });

  test.skipIf(!run)('are found by any overlap of their span, which ends before endUtcMs', async () => {
    const log = createRawLog(await fresh());
    const batch = makeRawBatch();
    await log.append([batch]);
    const found = async (from: number, to: number) => (await loadRawBatches(database.db, 'device-a', from, to)).length;
    expect(await found(batch.firstUtcMs + 1, batch.firstUtcMs + 2)).toBe(1);
    expect(await found(batch.endUtcMs, batch.endUtcMs + 1000)).toBe(0);
    expect(await found(batch.firstUtcMs - 1000, batch.firstUtcMs)).toBe(0);
  });

  test.skipIf(!run)('belong to whoever wore the device, and go with that athlete', async () => {
    const log = createRawLog(await fresh());
    const athlete = await createAthlete(database.db, 'Wearer', 0);
    await placeSensor(database.db, 'device-a', athlete.id, 'pelvis');
    await log.append([makeRawBatch(), makeRawBatch({ deviceId: 'device-b' })]);
    await database.sql`delete from athletes where id = ${athlete.id}`;
    expect(await everything()).toEqual([]);
    expect(await everything('device-b')).toHaveLength(1);
  });

  test.skipIf(!run)('of two thousand batches go in one append', async () => {
    const log = createRawLog(await fresh());
    const batches = Array.from({ length: 2000 }, (_, i) => makeRawBatch({ firstSequence: i * 8 }));
    await log.append(batches);
    expect((await log.streamEnd('device-a', 4_000_000_001))?.nextSequence).toBe(16_000);
  });
});

describe('a PostgreSQL that is killed', () => {
  test('is started again on the same port, and what was appended is there', async () => {
    const server = await startTestPostgres();
    try {
      const database = await server.newDatabase();
      const log = createRawLog(database);
      await log.append([makeRawBatch()]);
      const before = server.own!.pid();
      process.kill(before, 'SIGKILL');
      await waitUntil('another postmaster runs', () => server.own!.pid() !== before);
      const end = await waitUntil('the database answers', () =>
        log.streamEnd('device-a', 4_000_000_001).catch(() => null),
      );
      expect(end.nextSequence).toBe(8);
      await log.append([makeRawBatch({ firstSequence: 8 })]);
    } finally {
      await server.stop();
    }
  });
});
