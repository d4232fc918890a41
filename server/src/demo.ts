/**
 * `npm run demo`: the real server with its own database, two virtual sensors on an invented athlete, and a coach who
 * uses the API. Everything goes over real sockets; nothing is shown that was not measured, sent, stored and analysed.
 */
import { pino } from 'pino';
import { PLACES } from '@ambipede/shared';
import type { Place } from '@ambipede/shared';
import { hostNowMs, startVirtualSensor } from '@ambipede/firmware-protocol/virtual-sensor';
import { buildApp } from './app.ts';
import { readConfig } from './config.ts';
import { DemoCoach } from './demo/coach.ts';
import { EndlessMovement } from './demo/movement.ts';
import { DEVICES } from './demo/people.ts';
import { erasedListIn } from './erased-list.ts';
import { SetupError, loggable, messageOf } from './errors.ts';
import { onStopSignal } from './stop-signals.ts';
import { openStore } from './store/open-store.ts';

const DATA_DIR = './data/demo';
/** Time for the sensors to connect before the movement starts. */
const HEAD_START_MS = 500;
/** Crystals are a little wrong, each in its own way. */
const SKEW_PPM: Record<Place, number> = { pelvis: 18, sternum: -25 };

const log = pino({ level: 'warn' });
const opened: (() => unknown)[] = [];

async function end(exitCode: number): Promise<void> {
  while (opened.length > 0) {
    const close = opened.pop()!;
    await Promise.resolve(close()).catch((error: unknown) => log.error(messageOf(error)));
  }
  process.exit(exitCode);
}

function fail(error: unknown): void {
  console.error(error instanceof SetupError ? error.message : loggable(error));
  void end(1);
}

async function demo(): Promise<void> {
  // Never into a database of the operator's: these people are invented.
  const config = { ...readConfig(DATA_DIR), databaseUrl: null };
  const store = await openStore(config, log, (problem) => fail(new SetupError(problem)));
  opened.push(() => store.close());
  const app = await buildApp({
    database: store.database,
    webDir: config.webDir,
    logger: log,
    access: { kind: 'open' },
    erasedList: erasedListIn(config.dataDir),
  });
  opened.push(() => app.close());
  const address = await app.listen({ host: config.host, port: config.port }).catch((error: unknown) => {
    throw new SetupError(
      `Cannot listen on PORT ${config.port} (${messageOf(error)}). Choose another: PORT=8081 npm run demo`,
    );
  });

  const movement = await EndlessMovement.begin();
  opened.push(() => movement.close());
  const coach = new DemoCoach(address, (problem) => log.error(problem));
  opened.push(() => coach.stop());
  const { wearerId, tokens } = await coach.prepare();

  const startMs = hostNowMs() + HEAD_START_MS;
  const sensors = PLACES.map((place) =>
    startVirtualSensor({
      deviceId: DEVICES[place],
      token: tokens[place],
      url: `${address.replace(/^http/, 'ws')}/ingest`,
      rateHz: movement.rateHz,
      source: movement.readings(place),
      startMs,
      skewPpm: SKEW_PPM[place],
    }),
  );
  opened.push(() => Promise.all(sensors.map((sensor) => sensor.stop())));
  movement.onPart((part) => coach.accompany(part, startMs));

  console.log(`
  Ambipede demo: ${address}/#/live/${wearerId}
  An invented athlete with two virtual sensors: lead-in, stand, walk, run-ups, and on.
  Not a medical device. Ctrl-C ends it.
`);
}

onStopSignal(() => void end(0));
demo().catch(fail);
