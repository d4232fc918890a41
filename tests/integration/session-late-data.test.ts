/** Samples that a sensor still held when the trial's result was made. On a clock that runs fast. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { hostNowMs, startVirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import type { VirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import { PLACES } from '../../shared/src/index.ts';
import type { AthleteSummary, SessionView, TrialSummary } from '../../shared/src/index.ts';
import { countingSource } from '../support/counting-source.ts';
import { makeFastClock } from '../support/fast-clock.ts';
import { startTestApp } from '../support/test-app.ts';
import type { TestApp } from '../support/test-app.ts';
import { startTestPostgres } from '../support/test-postgres.ts';
import type { TestPostgres } from '../support/test-postgres.ts';
import { waitUntil } from '../support/wait-until.ts';

const SPEED = 5;
/** Seconds of movement. The sternum is out of reach from within the trial until long after its end. */
const TRIAL_S = [3, 6] as const;
const RADIO_LOSS = { startS: 4, endS: 45 };

let server: TestPostgres;
let api: TestApp;
let sensors: VirtualSensor[] = [];
let trial: TrialSummary;
beforeAll(async () => {
  server = await startTestPostgres();
  api = await startTestApp(await server.newDatabase(), { nowUtcMs: makeFastClock(SPEED).nowUtcMs });
  const athlete = await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Test athlete' });
  for (const place of PLACES) await api.call('PUT', `/api/sensors/late-${place}`, { athleteId: athlete.id, place });
  const session = await api.call<SessionView>('POST', '/api/sessions', { athleteId: athlete.id });
  const tokens = await Promise.all(PLACES.map((place) => api.enrol(`late-${place}`)));
  const startMs = hostNowMs() + 200;
  sensors = PLACES.map((place, k) =>
    startVirtualSensor({
      deviceId: `late-${place}`,
      token: tokens[k]!,
      url: `${api.socketUrl}/ingest`,
      rateHz: 200,
      source: countingSource(),
      startMs,
      speed: SPEED,
      ...(place === 'sternum' && { radioLoss: [RADIO_LOSS] }),
    }),
  );
  const at = (movementS: number) =>
    waitUntil('the moment comes', () => hostNowMs() > startMs + (movementS / SPEED) * 1000);
  await at(TRIAL_S[0]);
  trial = await api.call('POST', `/api/sessions/${session.id}/trials`, { task: 'stand' });
  await at(TRIAL_S[1]);
  trial = await api.call('POST', `/api/trials/${trial.id}/stop`);
});
afterAll(async () => {
  await Promise.all(sensors.map((sensor) => sensor.stop()));
  await api?.close();
  await server?.stop();
});

const trialWhen = (fits: (trial: TrialSummary) => boolean) =>
  waitUntil('the trial is so', async () => {
    const found = await api.call<TrialSummary>('GET', `/api/trials/${trial.id}`);
    return fits(found) ? found : null;
  });

describe('a trial whose samples come late', () => {
  test('gets a result without them that says what is missing', async () => {
    const early = await trialWhen((found) => found.state === 'final');
    expect(early.problem).toMatch(/^The last \d\.\d s of the sternum sensor had not arrived\./);
    // From the loss of radio within the trial to its end.
    expect(Number(/last (\d\.\d) s/.exec(early.problem!)![1])).toBeGreaterThan(1);
  });

  test('gets its whole result when they have come, without anybody asking', async () => {
    const whole = await trialWhen((found) => found.state === 'final' && found.problem === null);
    expect(whole.endedUtcMs).toBe(trial.endedUtcMs);
    expect(sensors[1]!.state().connections).toBe(2);
  });
});
