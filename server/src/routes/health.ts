/** Two questions of whoever watches: is the process alive, and can it do its work? */
import type { FastifyPluginAsync } from 'fastify';
import { openToAll } from '../access/rules.ts';

/** A database that has not answered by then does not answer. */
export const DATABASE_WAIT_MS = 2000;
/** Fuller than this, sensors will soon have to keep their samples themselves. */
export const QUEUE_FILL_MAX = 0.9;

const PUBLIC = openToAll('a monitor cannot sign in, and nothing of anybody is told');

export interface HealthSources {
  /** Rejects when the database cannot be asked. */
  askDatabase(): Promise<unknown>;
  storageState(): { failing: boolean; queuedSamples: number };
  queueSamplesMax: number;
}

export function healthRoutes({ askDatabase, storageState, queueSamplesMax }: HealthSources): FastifyPluginAsync {
  let asking: Promise<boolean> | null = null;
  /** One question at a time, however often somebody asks us: a database that hangs must not be given more to do. */
  const databaseAnswers = (): Promise<boolean> => {
    asking ??= askDatabase()
      .then(
        () => true,
        () => false,
      )
      .finally(() => (asking = null));
    return Promise.race([
      asking,
      new Promise<boolean>((resolve) => setTimeout(resolve, DATABASE_WAIT_MS, false).unref()),
    ]);
  };

  return async (app) => {
    /** Alive: this process answers. Anything else is not cured by starting it again. */
    app.get('/healthz/alive', { logLevel: 'warn', config: { access: PUBLIC } }, () => ({ alive: true }));

    /** Ready: 200 while samples can be stored, 503 otherwise, and why. */
    app.get('/healthz', { logLevel: 'warn', config: { access: PUBLIC } }, async (_request, reply) => {
      const answers = await databaseAnswers();
      const { failing, queuedSamples } = storageState();
      const queueFill = queuedSamples / queueSamplesMax;
      const problems = [
        ...(answers ? [] : ['The database does not answer.']),
        ...(failing ? ['Samples cannot be stored; it is tried again.'] : []),
        ...(queueFill > QUEUE_FILL_MAX ? ['Storing does not keep up: sensors have to keep their samples.'] : []),
      ];
      if (problems.length > 0) reply.code(503);
      return {
        ready: problems.length === 0,
        problems,
        database: answers ? 'ok' : 'unreachable',
        failing,
        queuedSamples,
        queueFill: Math.round(queueFill * 1000) / 1000,
      };
    });
  };
}
