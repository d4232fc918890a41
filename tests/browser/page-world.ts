/** What the pages are shown in tests, measurements and pictures: an invented club on the mock server, with a live feed. */
import type {
  LiveMessage,
  LiveSession,
  MetricAsymmetry,
  MountingReport,
  SensorCondition,
  SensorStatus,
  Stance,
  StanceMetricKey,
} from '@ambipede/shared';
import { STANCE_METRIC_KEYS } from '@ambipede/shared';
import { startMockServer, type MockServer } from './web-mock-server.ts';

const FEED_PERIOD_MS = 50;
const LEAD_IN: MountingReport = {
  source: 'lead-in',
  quaternion: [1, 0, 0, 0],
  frontalUncertaintyDeg: 0.6,
  remarks: [],
  details: {},
};

export const SESSION: LiveSession = { sessionId: 's1', startedUtcMs: 0, leadInStep: null, trial: null };

export interface World {
  server: MockServer;
  /** What the feed says; change it, and it says the new thing. */
  now: { session: LiveSession | null; obliquityDeg: number; trunkTiltDeg: number; sternum: SensorCondition };
  mounting: MountingReport;
  /** Angles and sensor states go out as long as this is true. */
  feeding: boolean;
  tell: () => void;
  close: () => Promise<void>;
}

export async function startWorld(): Promise<World> {
  const server = await startMockServer();
  const world: World = {
    server,
    now: { session: SESSION, obliquityDeg: 0, trunkTiltDeg: 0, sternum: 'streaming' },
    mounting: LEAD_IN,
    feeding: true,
    tell: () => told().forEach((message) => server.send(message)),
    async close() {
      clearInterval(feed);
      await server.close();
    },
  };
  const told = (): LiveMessage[] => [
    { type: 'session', session: world.now.session },
    { type: 'mounting', mounting: { pelvis: world.mounting, sternum: world.mounting } },
  ];
  server.greeting = () => [{ type: 'hello', serverUtcMs: Date.now(), version: 'test', athleteId: 'a1' }, ...told()];
  const feed = setInterval(() => {
    if (!world.feeding) return;
    const { obliquityDeg, trunkTiltDeg, sternum } = world.now;
    const statuses = [sensorStatus('pelvis', 'streaming'), sensorStatus('sternum', sternum)];
    server.send({ type: 'sensors', serverUtcMs: Date.now(), sensors: statuses });
    const utcMs = [Date.now()];
    server.send({ type: 'angles', utcMs, pelvicObliquityDeg: [obliquityDeg], trunkLateralTiltDeg: [trunkTiltDeg] });
  }, FEED_PERIOD_MS);
  return world;
}

export function sensorStatus(place: 'pelvis' | 'sternum', condition: SensorCondition): SensorStatus {
  return {
    deviceId: `${place}-01`,
    place,
    condition,
    behindS: condition === 'streaming' ? 0 : 0.4,
    lostSamples: 0,
    receivedSamples: 1,
    batteryPercent: 80,
    clockResidualMs: 0.4,
  };
}

export function stanceOf(
  id: number,
  side: Stance['side'],
  values: Partial<Record<StanceMetricKey, number>> = {},
): Stance {
  const all = Object.fromEntries(STANCE_METRIC_KEYS.map((key) => [key, 2])) as Record<StanceMetricKey, number>;
  const at = { initialContact: id, toeOff: id + 0.2 };
  return { ...all, ...values, ...at, id, revision: 0, side, sidePosterior: 0.99, gait: 'run' };
}

export function resultOf(difference: number): MetricAsymmetry {
  return {
    left: { n: 12, mean: 4 + difference / 2, sd: 0.8 },
    right: { n: 12, mean: 4 - difference / 2, sd: 0.9 },
    difference,
    ci95: [difference - 1, difference + 1],
    missingStances: { left: 0, right: 0 },
    verdict: 'more than scatter',
  };
}
