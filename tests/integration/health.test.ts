/** What whoever watches the server is told, and with which status. */
import Fastify from 'fastify';
import { describe, expect, test } from 'vitest';
import { DATABASE_WAIT_MS, QUEUE_FILL_MAX, healthRoutes } from '../../server/src/routes/health.ts';
import type { HealthSources } from '../../server/src/routes/health.ts';

const QUEUE = 1000;

async function ask(path: string, sources: Partial<HealthSources> = {}): Promise<Record<string, unknown>> {
  const app = Fastify();
  await app.register(
    healthRoutes({
      askDatabase: () => Promise.resolve(),
      storageState: () => ({ failing: false, queuedSamples: 0 }),
      queueSamplesMax: QUEUE,
      ...sources,
    }),
  );
  const { statusCode, body } = await app.inject(path);
  await app.close();
  return { status: statusCode, ...(JSON.parse(body) as Record<string, unknown>) };
}

const queued = (queuedSamples: number, failing = false): Partial<HealthSources> => ({
  storageState: () => ({ failing, queuedSamples }),
});

describe('GET /healthz', () => {
  test('says ready while samples can be stored', async () => {
    expect(await ask('/healthz', queued(420))).toEqual({
      status: 200,
      ready: true,
      problems: [],
      database: 'ok',
      failing: false,
      queuedSamples: 420,
      queueFill: 0.42,
    });
  });

  test('is 503 and says so when the database refuses', async () => {
    const askDatabase = () => Promise.reject(new Error('password is wrong'));
    const told = await ask('/healthz', { askDatabase });
    expect(told).toMatchObject({ status: 503, ready: false, database: 'unreachable' });
    expect(told).toMatchObject({ problems: ['The database does not answer.'] });
    expect(JSON.stringify(told)).not.toContain('password');
  });

  test('is 503 while storing fails, whatever the database says to a question', async () => {
    const told = await ask('/healthz', queued(0, true));
    expect(told).toMatchObject({ status: 503, database: 'ok', failing: true });
    expect(told).toMatchObject({ problems: [expect.stringContaining('cannot be stored')] });
  });

  test('is 503 when the queue is nearly full, and not before', async () => {
    expect(await ask('/healthz', queued(QUEUE * QUEUE_FILL_MAX))).toMatchObject({ status: 200 });
    expect(await ask('/healthz', queued(QUEUE * QUEUE_FILL_MAX + 1))).toMatchObject({
      status: 503,
      problems: [expect.stringContaining('does not keep up')],
    });
  });

  test('names all that fails', async () => {
    const askDatabase = () => Promise.reject(new Error('gone'));
    const told = await ask('/healthz', { askDatabase, ...queued(QUEUE, true) });
    expect(told['problems']).toHaveLength(3);
  });

  test('does not wait for a database that hangs, and asks it one question at a time', async () => {
    let asked = 0;
    const app = Fastify();
    const askDatabase = () => {
      asked += 1;
      return new Promise(() => undefined);
    };
    const storageState = () => ({ failing: false, queuedSamples: 0 });
    await app.register(healthRoutes({ askDatabase, storageState, queueSamplesMax: QUEUE }));
    const began = performance.now();
    const answers = await Promise.all(['/healthz', '/healthz', '/healthz'].map((path) => app.inject(path)));
    expect(answers.map((answer) => answer.statusCode)).toEqual([503, 503, 503]);
    expect(performance.now() - began).toBeGreaterThanOrEqual(DATABASE_WAIT_MS - 1);
    expect(asked).toBe(1);
    await app.close();
  });
});

describe('GET /healthz/alive', () => {
  test('is 200 as long as the process answers: a restart would not bring the database back', async () => {
    const askDatabase = () => Promise.reject(new Error('gone'));
    expect(await ask('/healthz/alive', { askDatabase, ...queued(QUEUE, true) })).toEqual({ status: 200, alive: true });
  });
});
