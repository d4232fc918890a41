/** Devices and where they sit. */
import { and, asc, eq, isNotNull, ne } from 'drizzle-orm';
import type { KnownSensor, Place } from '@ambipede/shared';
import type { DbOrTx } from './database.ts';
import { sensors } from './schema/index.ts';

export async function listSensors(db: DbOrTx): Promise<KnownSensor[]> {
  return db.select().from(sensors).orderBy(asc(sensors.deviceId));
}

export interface PlacedSensor {
  deviceId: string;
  athleteId: string;
  place: Place;
}

export async function listPlacedSensors(db: DbOrTx): Promise<PlacedSensor[]> {
  const rows = await db
    .select()
    .from(sensors)
    .where(and(isNotNull(sensors.athleteId), isNotNull(sensors.place)));
  return rows as PlacedSensor[];
}

/** Makes a device known that has said hello. */
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
    .returning();
  if (!row) throw new Error('the placed sensor was not returned');
  return row;
}
