/** A simulated movement through real sockets, on a clock that runs fast, with the taps of a coach at its marks. */
import { hostNowMs, startVirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import { readingsOf, type SimulatedSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { LEAD_IN_STEPS, PLACES } from '../../shared/src/index.ts';
import type { AthleteSummary, NewAthlete, SessionView, TrialSummary, TrialView } from '../../shared/src/index.ts';
import { watchLive, type LiveViewer } from './live-viewer.ts';
import type { TestApp } from './test-app.ts';
import { waitUntil } from './wait-until.ts';

const HEAD_START_MS = 400;
const TRIAL_MARGIN_S = 0.4;

export interface CoachedSession {
  athlete: AthleteSummary;
  session: SessionView;
  viewer: LiveViewer;
  /** One per mark that is a task, with its final result. */
  trials: TrialView[];
}

/**
 * The sensors are called `<prefix>-pelvis` and `-sternum`. Ends when every trial is final and every sample has been sent.
 * @param speed of the clock that the server of `api` was given
 */
export async function coachSession(
  api: TestApp,
  movement: SimulatedSession,
  { speed, prefix, details }: { speed: number; prefix: string; details: NewAthlete },
): Promise<CoachedSession> {
  const athlete = await api.call<AthleteSummary>('POST', '/api/athletes', details);
  for (const place of PLACES)
    await api.call('PUT', `/api/sensors/${prefix}-${place}`, { athleteId: athlete.id, place });
  const tokens = await Promise.all(PLACES.map((place) => api.enrol(`${prefix}-${place}`)));
  const session = await api.call<SessionView>('POST', '/api/sessions', { athleteId: athlete.id });
  const viewer = watchLive(api.socketUrl, athlete.id);
  await viewer.next('hello');

  const startMs = hostNowMs() + HEAD_START_MS;
  const sensors = PLACES.map((place, k) =>
    startVirtualSensor({
      deviceId: `${prefix}-${place}`,
      token: tokens[k]!,
      url: `${api.socketUrl}/ingest`,
      rateHz: movement.rateHz,
      source: readingsOf(movement.streams[place]!),
      startMs,
      speed,
    }),
  );
  const at = (movementS: number) =>
    waitUntil('the moment comes', () => hostNowMs() >= startMs + (movementS / speed) * 1000);
  const started: TrialSummary[] = [];
  for (const { kind, startS, endS } of movement.marks) {
    if ((LEAD_IN_STEPS as readonly string[]).includes(kind)) {
      await at(startS);
      await api.call('POST', `/api/sessions/${session.id}/lead-in/${kind}/start`);
      await at(endS);
      await api.call('POST', `/api/sessions/${session.id}/lead-in/${kind}/stop`);
    } else {
      await at(startS - TRIAL_MARGIN_S);
      const trial = await api.call<TrialSummary>('POST', `/api/sessions/${session.id}/trials`, { task: kind });
      started.push(trial);
      await at(endS + TRIAL_MARGIN_S);
      await api.call('POST', `/api/trials/${trial.id}/stop`);
    }
  }
  const trials: TrialView[] = [];
  for (const { id } of started) {
    const final = await waitUntil('the trial is final', async () => {
      const view = await api.call<TrialView>('GET', `/api/trials/${id}`);
      return view.state === 'final' || view.state === 'failed' ? view : null;
    });
    trials.push(final);
  }
  await Promise.all(sensors.map((sensor) => sensor.finished));
  return { athlete, session, viewer, trials };
}
