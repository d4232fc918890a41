/**
 * Builds the whole server on a database that is open. Nothing listens until `listen` is called on what it returns;
 * `close` ends everything that was built here, and leaves the database to whoever opened it.
 *
 *   /ingest > ingest > raw log (store)
 *                \-> live hub > athlete feeds > fan-out > /live
 *   /metrics, /healthz: the same parts with counting around them (ops/)
 *   /api    > session service > store, live hub, finaliser
 */
import Fastify, { LogController } from 'fastify';
import type { FastifyBaseLogger, FastifyInstance } from 'fastify';
import { TypeBoxValidatorCompiler } from '@fastify/type-provider-typebox';
import { messageOf } from './errors.ts';
import type { IngestDependencies } from './ingest/ingest.ts';
import { QUEUE_SAMPLES_MAX } from './ingest/limits.ts';
import { makeUtcClock } from './ingest/utc-clock.ts';
import { CountedAnalysis, CountedFanout, CountedIngest } from './ops/counted.ts';
import { watchEventLoop } from './ops/event-loop-delay.ts';
import { makeMetrics } from './ops/metrics.ts';
import { withoutPersonalData } from './ops/safe-log.ts';
import { annotationRoutes } from './routes/annotations.ts';
import { limitedProblems } from './ops/problem-log.ts';
import { athleteRoutes } from './routes/athletes.ts';
import { installErrorHandler } from './routes/error-handler.ts';
import { exportRoutes } from './routes/exports.ts';
import { healthRoutes } from './routes/health.ts';
import { historyRoutes } from './routes/history.ts';
import { ladderRoutes } from './routes/ladder.ts';
import { metricsRoutes } from './routes/metrics.ts';
import { installRequestLog } from './routes/request-log.ts';
import { returnEpisodeRoutes } from './routes/return-episodes.ts';
import { sensorRoutes } from './routes/sensors.ts';
import { sessionRoutes } from './routes/sessions.ts';
import { trialRoutes } from './routes/trials.ts';
import { installSockets } from './routes/upgrade.ts';
import { installWeb } from './routes/web.ts';
import { EnrolmentService } from './session/enrolment-service.ts';
import { Enrolments } from './session/enrolments.ts';
import { Finaliser } from './session/finaliser.ts';
import { LiveHub } from './session/live-hub.ts';
import { PipelineRestarter } from './session/pipeline-restarter.ts';
import { Placements } from './session/placements.ts';
import { recover } from './session/recovery.ts';
import { RefusedSensors } from './session/refused-sensors.ts';
import { SensorRegister } from './session/sensor-register.ts';
import { SensorService } from './session/sensor-service.ts';
import { SessionService } from './session/session-service.ts';
import { TurnsOfEach } from './session/turns-of-each.ts';
import { Turns } from './session/turns.ts';
import { athleteExists } from './store/athletes.ts';
import type { Database } from './store/database.ts';
import { createRawLog } from './store/raw-batches.ts';
import { listPlacedSensors, listSensors, listTokenHashes } from './store/sensors.ts';
import { saveMounting } from './store/sessions.ts';

export interface AppDependencies {
  database: Database;
  webDir: string;
  logger: FastifyBaseLogger;
  /** Server time in ms UTC. */
  nowUtcMs?: () => number;
}

const REQUEST_BYTES_MAX = 64 * 1024;

export async function buildApp({
  database,
  webDir,
  logger,
  nowUtcMs = makeUtcClock(),
}: AppDependencies): Promise<FastifyInstance> {
  const { db, sql } = database;
  const app = Fastify({
    loggerInstance: withoutPersonalData(logger),
    bodyLimit: REQUEST_BYTES_MAX,
    logController: new LogController({ disableRequestLogging: true }),
  });
  const onProblem = limitedProblems(
    (problem, deviceId) => app.log.warn({ deviceId }, problem),
    () => performance.now(),
  );

  const placements = new Placements(await listPlacedSensors(db));
  const register = new SensorRegister(db, await listSensors(db), nowUtcMs, onProblem);
  const refused = new RefusedSensors(nowUtcMs);
  const enrolments = new Enrolments(await listTokenHashes(db), refused);
  const metrics = makeMetrics();
  const fanout = new CountedFanout(metrics, (athleteId, toeOffS) => {
    const { session } = hub.feed(athleteId);
    return session && nowUtcMs() - session.startedUtcMs - toeOffS * 1000;
  });
  const ingestParts: IngestDependencies = {
    log: createRawLog(database),
    nowUtcMs,
    admits: (deviceId, token) => enrolments.admits(deviceId, token),
    onSamples: (deviceId, samples, info) => {
      hub.takeSamples(deviceId, samples, info);
      finaliser.samplesArrived(deviceId, samples[0]?.utcMs ?? 0, samples[samples.length - 1]?.utcMs ?? 0);
    },
    onStatus: () => undefined,
    onSensorChange: (deviceId, state) => {
      register.changed(deviceId, state.connected);
      hub.sensorChanged(deviceId);
    },
    onProblem,
  };
  const ingest = new CountedIngest(ingestParts, metrics);
  const hub: LiveHub = new LiveHub({
    fanout,
    placements,
    nowUtcMs,
    sensorState: (deviceId) => ingest.sensorState(deviceId),
    hasBeenSeen: (deviceId) => register.hasBeenSeen(deviceId),
    onRateChanged: (athleteId) => restarter.restartSoon(athleteId),
    onMountingChanged: ({ session, mounting }) => {
      for (const [place, report] of Object.entries(mounting)) {
        if (!session) return;
        saveMounting(db, session.id, place as keyof typeof mounting, report).catch((error) =>
          onProblem(messageOf(error)),
        );
      }
    },
  });
  const analysis = new CountedAnalysis(metrics);
  const restarter = new PipelineRestarter(db, () => hub, nowUtcMs, onProblem);
  const finaliser: Finaliser = new Finaliser({
    db,
    nowUtcMs,
    onProblem,
    analysis,
    isConnected: (deviceId) => ingest.sensorState(deviceId)?.connected ?? false,
    isStorageFailing: () => ingest.storageState().failing,
    onDone: (trial, result) => {
      hub.feed(trial.athleteId).forgetTrial(trial.id);
      if (!result) return;
      fanout.publish(trial.athleteId, {
        type: 'asymmetry',
        trialId: trial.id,
        provisional: false,
        metrics: result.asymmetry,
      });
    },
  });
  const turns = new Turns();
  const athleteTurns = new TurnsOfEach();
  const sessionService = new SessionService({
    db,
    hub,
    placements,
    finaliser,
    restarter,
    nowUtcMs,
    turns: athleteTurns,
  });
  const newestUtcMs = (deviceId: string): number | null => ingest.sensorState(deviceId)?.newestUtcMs ?? null;
  const sensorService = new SensorService({ db, hub, placements, restarter, turns, athleteTurns, newestUtcMs });
  const expel = (deviceId: string): void => ingest.expel(deviceId);
  const enrolmentService = new EnrolmentService({ db, enrolments, expel, turns });

  installErrorHandler(app);
  installRequestLog(app);
  app.setValidatorCompiler(TypeBoxValidatorCompiler);
  await app.register(athleteRoutes(db, sessionService));
  await app.register(annotationRoutes(db, nowUtcMs));
  await app.register(historyRoutes(db));
  await app.register(returnEpisodeRoutes(db, nowUtcMs));
  await app.register(ladderRoutes(db));
  await app.register(sensorRoutes(sensorService, enrolmentService, refused));
  await app.register(sessionRoutes(sessionService));
  await app.register(trialRoutes(db, sessionService, finaliser));
  await app.register(exportRoutes(db, finaliser));
  const storageState = () => ingest.storageState();
  const queueSamplesMax = QUEUE_SAMPLES_MAX;
  await app.register(healthRoutes({ askDatabase: () => sql`select 1`, storageState, queueSamplesMax }));
  metrics.readFrom({
    queueSamplesMax,
    queuedSamples: () => storageState().queuedSamples,
    storageFailing: () => storageState().failing,
    viewers: () => fanout.viewerCount,
    oldestUnacknowledgedS: () => ingest.oldestUnacknowledgedS(),
  });
  await app.register(metricsRoutes(metrics.registry));
  const stopWatching = watchEventLoop(metrics);
  await installWeb(app, webDir);
  const sockets = installSockets(app.server, ingest, {
    fanout,
    athleteExists: (id) => athleteExists(db, id),
    snapshot: (athleteId) => hub.snapshot(athleteId),
  });

  await recover(db, finaliser, restarter, nowUtcMs());
  app.addHook('preClose', async () => {
    hub.close();
    sockets.closeViewers();
    await ingest.close();
    await sockets.terminateAll();
  });
  app.addHook('onClose', async () => {
    await finaliser.close();
    await analysis.close();
    await register.idle();
    stopWatching();
  });
  return app;
}
