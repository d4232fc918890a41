/** Both sensors of an athlete in one line, from what the list of athletes says of them. */
import { PLACES, type Place, type SensorStatus } from '@ambipede/shared';
import { TEXTS } from '../texts.ts';
import { checkSensor, type Readiness, type SensorCheck } from './sensor-check.ts';

export interface BothSensors {
  ready: Readiness;
  words: string;
}

/** The worst of the two leads; `warn` still measures. */
export function readyWords(sensors: readonly SensorStatus[], stale: boolean): BothSensors {
  const checks = PLACES.map((place) =>
    checkSensor({
      place,
      status: sensors.find((sensor) => sensor.place === place) ?? null,
      known: null,
      refused: null,
      stale,
    }),
  );
  if (stale) return { ready: 'unknown', words: TEXTS.check.unknown };
  const isStreaming = (place: Place) => sensors.find((sensor) => sensor.place === place)?.condition === 'streaming';
  if (checks.some(({ readiness }) => readiness === 'not-ready')) {
    // The states stand below it; only of a sensor that is live do they not tell why.
    const live = checks.filter(({ readiness, place }) => readiness === 'not-ready' && isStreaming(place));
    return {
      ready: 'not-ready',
      words: live.length === 0 ? TEXTS.check.notReady : TEXTS.check.notReadyBecause(say(live)),
    };
  }
  const warned = checks.filter(({ readiness }) => readiness === 'warn');
  if (warned.length > 0) return { ready: 'warn', words: TEXTS.check.bothReadyBut(say(warned)) };
  return { ready: 'ready', words: TEXTS.check.bothReady };
}

function say(checks: readonly SensorCheck[]): string {
  return checks.map(({ place, verdict }) => TEXTS.check.line(TEXTS.place[place], verdict)).join(', ');
}
