/** Bad radios and restarts: everything that a sensor did not report as lost is stored as it was measured. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestPostgres } from '../support/test-postgres.ts';
import type { TestPostgres } from '../support/test-postgres.ts';
import { badRadio, minuteWithoutRadio, rebootInTrial } from './sensor-faults.ts';

let server: TestPostgres;
beforeAll(async () => {
  server = await startTestPostgres();
});
afterAll(() => server?.stop());

describe.concurrent('a radio that', () => {
  test('is away for a minute is followed by a burst that costs nothing', async () => {
    const { lost, acknowledged, connections } = await minuteWithoutRadio(await server.newDatabase());
    expect(lost).toBe(0);
    expect(acknowledged).toBeGreaterThan(2 * 65 * 200);
    expect(Math.min(...connections)).toBeGreaterThan(1);
  });

  test('delays every frame, and holds them up for seconds, breaks no connection', async () => {
    const spans = [
      { startS: 1, endS: 3, kind: 'slow', delayMs: 400 },
      { startS: 4, endS: 6.5, kind: 'dead' },
    ] as const;
    const { lost, connections } = await badRadio(await server.newDatabase(), 'slow radio', spans);
    expect(lost).toBe(0);
    expect(connections).toEqual([1, 1]);
  });

  test('leaves a connection half open has both sides give it up by themselves', async () => {
    const dead = [{ startS: 1, endS: 12.5, kind: 'dead' }] as const;
    const { lost, connections, log } = await badRadio(await server.newDatabase(), 'half-open connection', dead);
    expect(lost).toBe(0);
    expect(Math.min(...connections)).toBeGreaterThan(1);
    expect(log.filter((line) => line.includes('silent: '))).toHaveLength(2);
  });
});

describe.concurrent('sensors that restart in a trial', () => {
  test('begin a new boot, report what their memory lost, and have everything else stored', async () => {
    const reboots = [{ memory: 'lost' }, { memory: 'lost', offS: 0.5 }] as const;
    const { lost, boots, dropped, trial } = await rebootInTrial(await server.newDatabase(), reboots);
    expect(boots).toEqual([3, 3]);
    expect(lost).toBe(0);
    expect(dropped).toBeGreaterThan(0);
    expect(trial).toMatchObject({ state: 'final', problem: null });
  });

  test('lose nothing when memory and counter outlast it', async () => {
    const reboots = [{ memory: 'kept', offS: 0.5 }] as const;
    const { lost, boots, dropped, trial } = await rebootInTrial(await server.newDatabase(), reboots);
    expect(boots).toEqual([1, 1]);
    expect({ lost, dropped }).toEqual({ lost: 0, dropped: 0 });
    expect(trial).toMatchObject({ state: 'final', problem: null });
  });
});
