/** The whole server on a free port, as `main.ts` builds it. */
import { pino } from 'pino';
import { Writable } from 'node:stream';
import type { FastifyInstance } from 'fastify';
import type { SensorEnrolment } from '../../shared/src/index.ts';
import type { ErasedList } from '../../server/src/session/erasure.ts';
import type { AccessOptions } from '../../server/src/access/install.ts';
import { buildApp } from '../../server/src/app.ts';
import type { Database } from '../../server/src/store/database.ts';

export interface TestApp {
  app: FastifyInstance;
  url: string;
  socketUrl: string;
  /** What the server has logged, a JSON text per line. */
  log: string[];
  /** Sends JSON, expects the status, gives the parsed answer. */
  call<T>(method: string, path: string, body?: unknown, status?: number): Promise<T>;
  /** Gives the token of a device, which the one that it had before no longer is. */
  enrol(deviceId: string): Promise<string>;
  close(): Promise<void>;
}

export interface TestAppOptions {
  webDir?: string;
  nowUtcMs?: () => number;
  erasedList?: ErasedList;
  tls?: { cert: Buffer; key: Buffer };
  /** Without it whoever calls may do everything, as in the demonstration. */
  access?: AccessOptions;
}

/** Whoever calls has to be signed in: support/people.ts. */
export const WITH_ACCOUNTS: AccessOptions = {
  ...{ kind: 'accounts', publicUrl: null, keepersNeedSecondFactor: false },
  onPasswordChanged: async () => undefined,
};

export async function startTestApp(database: Database, options: TestAppOptions = {}): Promise<TestApp> {
  const log: string[] = [];
  const sink = new Writable({
    write(chunk, _encoding, done) {
      log.push(String(chunk));
      done();
    },
  });
  const app = await buildApp({
    database,
    webDir: 'does/not/exist',
    access: { kind: 'open' },
    ...options,
    logger: pino(sink),
  });
  const url = await app.listen({ host: '127.0.0.1', port: 0 });
  const call: TestApp['call'] = async (method, path, body, status) => {
    const response = await fetch(url + path, {
      method,
      ...(body !== undefined && { body: JSON.stringify(body), headers: { 'content-type': 'application/json' } }),
    });
    const text = await response.text();
    if (status === undefined ? !response.ok : response.status !== status) {
      throw new Error(`${method} ${path} answered ${response.status}: ${text}`);
    }
    return JSON.parse(text);
  };
  return {
    app,
    url,
    socketUrl: url.replace(/^http/, 'ws'),
    log,
    call,
    enrol: async (deviceId) =>
      (await call<SensorEnrolment>('POST', `/api/sensors/${deviceId}/enrolment`, undefined, 201)).token,
    close: () => app.close(),
  };
}
