/**
 * Builds the whole server on a database that is open. Nothing listens until `listen` is called on what it returns;
 * `close` ends everything that was built here, and leaves the database to whoever opened it.
 *
 *   /ingest > ingest > raw log (store)
 *                \-> live hub > athlete feeds > fan-out > /live
 *   /metrics, /healthz: the same parts with counting around them (ops/)
 *   /api    > session service > store, live hub, finaliser
 */
import type { FastifyBaseLogger, FastifyInstance } from 'fastify';
import { installAccess, type AccessOptions } from './access/install.ts';
import { SecondFactorService } from './access/second-factor-service.ts';
import { erasedListInMemory } from './erased-list.ts';
import { messageOf } from './errors.ts';
import { makeHttpServer } from './http-server.ts';
import type { IngestDependencies } from './ingest/ingest.ts';
import { QUEUE_SAMPLES_MAX } from './ingest/limits.ts';
import { makeUtcClock } from './ingest/utc-clock.ts';
import { CountedAnalysis, CountedFanout, CountedIngest } from './ops/counted.ts';
import { watchEventLoop } from './ops/event-loop-delay.ts';
import { makeMetrics } from './ops/metrics.ts';
import { accountRoutes } from './routes/accounts.ts';
import { annotationRoutes } from './routes/annotations.ts';
import { limitedProblems } from './ops/problem-log.ts';
import { athleteRoutes } from './routes/athletes.ts';
import { careRoutes } from './routes/care.ts';
import { exportRoutes } from './routes/exports.ts';
import { healthRoutes } from './routes/health.ts';
import { historyRoutes } from './routes/history.ts';
import { importRoutes } from './routes/imports.ts';
import { ladderRoutes } from './routes/ladder.ts';
import { metricsRoutes } from './routes/metrics.ts';
import { pairingRoutes } from './routes/pairing.ts';
import { privacyRoutes } from './routes/privacy.ts';
import { reAnalysisRoutes } from './routes/re-analysis.ts';
import { returnEpisodeRoutes } from './routes/return-episodes.ts';
import { sensorRoutes } from './routes/sensors.ts';
import { sessionRoutes } from './routes/sessions.ts';
import { trialRoutes } from './routes/trials.ts';
import { ownSignInRoutes } from './routes/own-sign-ins.ts';
import { secondFactorRoutes } from './routes/second-factor.ts';
import { signInRoutes } from './routes/sign-in.ts';
import { installSockets, type Sockets } from './routes/upgrade.ts';
import { installWeb } from './routes/web.ts';
import { EnrolmentService } from './session/enrolment-service.ts';
import { Enrolments } from './session/enrolments.ts';
import { ErasureService, type ErasedList } from './session/erasure.ts';
import { Finaliser } from './session/finaliser.ts';
import { ImportService } from './session/import-service.ts';
import { LiveHub } from './session/live-hub.ts';
import { RetentionService } from './session/retention.ts';
import { PairingCodes } from './session/pairing-codes.ts';
import { PipelineRestarter } from './session/pipeline-restarter.ts';
import { Placements } from './session/placements.ts';
import { ReAnalysis } from './session/re-analysis.ts';
import { recover } from './session/recovery.ts';
import { RefusedSensors } from './session/refused-sensors.ts';
import { SensorRegister } from './session/sensor-register.ts';
import { SensorService } from './session/sensor-service.ts';
import { SessionService } from './session/session-service.ts';
import { TurnsOfEach } from './session/turns-of-each.ts';
import { Turns } from './session/turns.ts';
import type { Database } from './store/database.ts';
import { createRawLog } from './store/raw-batches.ts';
import { listPlacedSensors, listSensors, listTokenHashes } from './store/sensors.ts';
import { saveMounting } from './store/sessions.ts';

export interface AppDependencies {
  database: Database;
  webDir: string;
  logger: FastifyBaseLogger;
  access: AccessOptions;
  /** The server's own certificate and key, PEM; null: plain HTTP, or a proxy that ends TLS. */
  tls?: { cert: Buffer; key: Buffer } | null;
  /** Ids of erased athletes; without one they are forgotten with the server. */
  erasedList?: ErasedList;
  /** Server time in ms UTC. */
  nowUtcMs?: () => number;
}

export async function buildApp({
  database,
  webDir,
  logger,
  access: accessOptions,
  tls = null,
  erasedList = erasedListInMemory(),
  nowUtcMs = makeUtcClock(),
}: AppDependencies): Promise<FastifyInstance> {
  const { db, sql } = database;
  const publicUrl = accessOptions.kind === 'accounts' ? accessOptions.publicUrl : null;
  const app = makeHttpServer({ logger, tls, behindProxy: publicUrl !== null });
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
  const reAnalysis = new ReAnalysis({ db, finaliser, nowUtcMs, onProblem });
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

  const onAccessChange = (): void => sockets.recheckViewers();
  const { access, audit, signIns, cookie, viewerGate, onPasswordChanged } = await installAccess(app, accessOptions, {
    ...{ db, nowUtcMs, encrypted: tls !== null },
  });
  await app.register(athleteRoutes(db, access, sessionService, nowUtcMs));
  await app.register(annotationRoutes(db, access, nowUtcMs));
  await app.register(historyRoutes(db, access));
  await app.register(returnEpisodeRoutes(db, nowUtcMs));
  await app.register(ladderRoutes(db));
  await app.register(sensorRoutes(access, sensorService, enrolmentService, refused));
  await app.register(pairingRoutes(new PairingCodes(nowUtcMs), enrolmentService));
  await app.register(sessionRoutes(sessionService));
  await app.register(trialRoutes(db, sessionService, finaliser));
  await app.register(exportRoutes(db, finaliser));
  await app.register(importRoutes(new ImportService({ database, finaliser, nowUtcMs, athleteTurns })));
  await app.register(reAnalysisRoutes(reAnalysis));
  await app.register(signInRoutes({ db, signIns, cookie, audit, onAccessChange, onPasswordChanged }));
  if (signIns !== null) {
    await app.register(ownSignInRoutes({ signIns, audit, onAccessChange }));
    const secondFactor = new SecondFactorService(db, nowUtcMs, signIns.proofs);
    await app.register(secondFactorRoutes({ signIns, secondFactor, audit, onAccessChange }));
  }
  await app.register(accountRoutes({ db, nowUtcMs, onAccessChange }));
  await app.register(careRoutes({ db, nowUtcMs, onAccessChange }));
  const erasure = new ErasureService({ db, hub, placements, athleteTurns, erasedList, onAccessChange });
  const retention = new RetentionService({ db, nowUtcMs, onProblem });
  await app.register(privacyRoutes({ db, erasure, retention, nowUtcMs }));
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
  const sockets: Sockets = installSockets(
    app.server,
    ingest,
    { fanout, snapshot: (athleteId) => hub.snapshot(athleteId) },
    viewerGate,
  );

  const erasedAgain = await erasure.resume();
  if (erasedAgain > 0)
    app.log.warn(`erased ${erasedAgain} athletes again, who were erased before the data was restored`);
  retention.begin();
  await recover(db, finaliser, restarter, nowUtcMs());
  await reAnalysis.resume();
  app.addHook('preClose', async () => {
    hub.close();
    sockets.closeViewers();
    await ingest.close();
    await sockets.terminateAll();
  });
  app.addHook('onClose', async () => {
    await Promise.all([reAnalysis.close(), finaliser.close(), retention.close()]);
    await analysis.close();
    await register.idle();
    stopWatching();
  });
  return app;
}
