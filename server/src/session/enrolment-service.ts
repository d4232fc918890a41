/** Gives devices their tokens and takes them back: first in the store, then in memory, then on the open connection. */
import { randomBytes } from 'node:crypto';
import type { KnownSensor, SensorEnrolment } from '@ambipede/shared';
import { conflict, notFound } from '../errors.ts';
import type { Db } from '../store/database.ts';
import { setTokenHash } from '../store/sensors.ts';
import { hashOfToken, type Enrolments } from './enrolments.ts';
import type { Turns } from './turns.ts';

/** 256 bits, shown as hexadecimal digits: 64 of them, which is what a hello can hold. */
export const TOKEN_RANDOM_BYTES = 32;
/** Their hashes are kept in memory. */
export const ENROLLED_SENSORS_MAX = 10_000;

export interface EnrolmentServiceDependencies {
  db: Db;
  enrolments: Enrolments;
  /** Closes the open connection of a device, if it has one. */
  expel: (deviceId: string) => void;
  turns: Turns;
}

export class EnrolmentService {
  readonly #deps: EnrolmentServiceDependencies;

  constructor(deps: EnrolmentServiceDependencies) {
    this.#deps = deps;
  }

  /** A new token for the device; one that it had before stops. The answer is the only place where the token ever is. */
  enrol(deviceId: string): Promise<SensorEnrolment> {
    const { db, enrolments, expel, turns } = this.#deps;
    return turns.take(async () => {
      if (!enrolments.has(deviceId) && enrolments.count >= ENROLLED_SENSORS_MAX) {
        throw conflict(
          'too-many-sensors',
          `${ENROLLED_SENSORS_MAX} sensors are enrolled. Revoke one that is no longer in use, then enrol this one.`,
        );
      }
      const token = randomBytes(TOKEN_RANDOM_BYTES).toString('hex');
      const tokenHash = hashOfToken(token);
      await setTokenHash(db, deviceId, tokenHash);
      enrolments.set(deviceId, tokenHash);
      expel(deviceId);
      return { deviceId, token };
    });
  }

  /** Does nothing to a device that is known and not enrolled. */
  revoke(deviceId: string): Promise<KnownSensor> {
    const { db, enrolments, expel, turns } = this.#deps;
    return turns.take(async () => {
      const sensor = await setTokenHash(db, deviceId, null);
      if (!sensor) throw notFound('sensor', '/api/sensors');
      enrolments.delete(deviceId);
      expel(deviceId);
      return sensor;
    });
  }
}
