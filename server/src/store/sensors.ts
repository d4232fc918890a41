/** Devices and where they sit. */
import { and, asc, eq, isNotNull, ne, sql } from 'drizzle-orm';
import type { KnownSensor, Place } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { sensors } from './schema/index.ts';

/** What may be shown of a sensor: everything but the hash of its token. */
const SHOWN = {
  deviceId: sensors.deviceId,
  athleteId: sensors.athleteId,
  place: sensors.place,
  lastSeenUtcMs: sensors.lastSeenUtcMs,
  enrolled: sql<boolean>`${sensors.tokenHash} is not null`,
};

export async function listSensors(db: DbOrTx): Promise<KnownSensor[]> {
  return db.select(SHOWN).from(sensors).orderBy(asc(sensors.deviceId));
}

/** SHA-256 of the token of each enrolled device. */
export async function listTokenHashes(db: DbOrTx): Promise<[deviceId: string, tokenHash: Uint8Array][]> {
  const rows = await db
    .select({ deviceId: sensors.deviceId, tokenHash: sensors.tokenHash })
    .from(sensors)
    .where(isNotNull(sensors.tokenHash));
  return rows.flatMap(({ deviceId, tokenHash }) => (tokenHash ? [[deviceId, tokenHash] as const] : []));
}

/** With null the device is no longer enrolled; a device that is not known then stays so, and the answer is null. */
export async function setTokenHash(
  db: DbOrTx,
  deviceId: string,
  tokenHash: Uint8Array | null,
): Promise<KnownSensor | null> {
  const [row] =
    tokenHash === null
      ? await db.update(sensors).set({ tokenHash }).where(eq(sensors.deviceId, deviceId)).returning(SHOWN)
      : await db
          .insert(sensors)
          .values({ deviceId, tokenHash })
          .onConflictDoUpdate({ target: sensors.deviceId, set: { tokenHash } })
          .returning(SHOWN);
  return row ?? null;
}

export interface PlacedSensor {
  deviceId: string;
  athleteId: string;
  place: Place;
}

export async function listPlacedSensors(db: DbOrTx): Promise<PlacedSensor[]> {
  const rows = await db
    .select({ deviceId: sensors.deviceId, athleteId: sensors.athleteId, place: sensors.place })
    .from(sensors)
    .where(and(isNotNull(sensors.athleteId), isNotNull(sensors.place)));
  return rows as PlacedSensor[];
}

/** Writes down when a device that has said hello came or went. */
export async function sensorSeen(db: DbOrTx, deviceId: string, nowUtcMs: number): Promise<void> {
  await db
    .insert(sensors)
    .values({ deviceId, lastSeenUtcMs: nowUtcMs })
    .onConflictDoUpdate({ target: sensors.deviceId, set: { lastSeenUtcMs: nowUtcMs } });
}

/** Another device at the same place of the same athlete, if any. */
export async function sensorAt(db: DbOrTx, athleteId: string, place: Place, except: string): Promise<string | null> {
  const [row] = await db
    .select({ deviceId: sensors.deviceId })
    .from(sensors)
    .where(and(eq(sensors.athleteId, athleteId), eq(sensors.place, place), ne(sensors.deviceId, except)));
  return row?.deviceId ?? null;
}

export async function placeSensor(
  db: DbOrTx,
  deviceId: string,
  athleteId: string | null,
  place: Place,
): Promise<KnownSensor> {
  const [row] = await db
    .insert(sensors)
    .values({ deviceId, athleteId, place })
    .onConflictDoUpdate({ target: sensors.deviceId, set: { athleteId, place } })
    .returning(SHOWN);
  if (!row) throw new Error('the placed sensor was not returned');
  return row;
}
