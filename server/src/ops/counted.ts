/** The parts of the server with counting around them; what they do is theirs alone, and they know nothing of it. */
import type {
  HelloMessage,
  ProtocolError,
  ProtocolErrorName,
  SamplesMessage,
  StatusMessage,
} from '@ambipede/firmware-protocol';
import { PROTOCOL_ERRORS } from '@ambipede/firmware-protocol';
import type { LiveMessage } from '@ambipede/shared';
import type { Exchange } from '../ingest/clock.ts';
import type { Connection } from '../ingest/connection.ts';
import { Ingest } from '../ingest/ingest.ts';
import type { IngestDependencies } from '../ingest/ingest.ts';
import type { RawLog } from '../ingest/raw-log.ts';
import { LiveFanout } from '../live/live-fanout.ts';
import type { Viewer } from '../live/live-fanout.ts';
import { AnalysisThread } from '../session/analysis-thread.ts';
import type { RecordingInputs } from '../session/analysis-thread.ts';
import { AcknowledgementWait } from './acknowledgement-wait.ts';
import type { Metrics } from './metrics.ts';

export class CountedIngest extends Ingest {
  readonly #metrics: Metrics;
  readonly #wait: AcknowledgementWait;

  constructor(deps: IngestDependencies, metrics: Metrics) {
    const wait = new AcknowledgementWait();
    super({
      ...deps,
      log: countedLog(deps.log, metrics, wait),
      onSamples: (deviceId, samples, info) => {
        metrics.samples.inc({ outcome: 'handed-on' }, samples.length);
        if (info.gapBefore > 0) metrics.samples.inc({ outcome: 'missing' }, info.gapBefore);
        deps.onSamples(deviceId, samples, info);
      },
      onSensorChange: (deviceId, state) => {
        if (state.connected) metrics.connected.add(deviceId);
        else {
          metrics.connected.delete(deviceId);
          wait.left(deviceId);
        }
        deps.onSensorChange(deviceId, state);
      },
    });
    this.#metrics = metrics;
    this.#wait = wait;
    // From the beginning at 0: an alarm on an increase has to see the first one.
    for (const name of Object.keys(PROTOCOL_ERRORS) as ProtocolErrorName[]) metrics.errors.inc({ name }, 0);
    for (const type of ['hello', 'samples', 'status', 'timeResponse', 'goodbye']) metrics.frames.inc({ type }, 0);
    for (const outcome of ['received', 'handed-on', 'stored', 'missing', 'repeated', 'late'])
      metrics.samples.inc({ outcome }, 0);
  }

  oldestUnacknowledgedS(): number {
    return this.#wait.oldestMs(performance.now()) / 1000;
  }

  override onHello(connection: Connection, hello: HelloMessage): void {
    this.#metrics.frames.inc({ type: 'hello' });
    super.onHello(connection, hello);
  }

  override onSamples(connection: Connection, message: SamplesMessage): void {
    this.#metrics.frames.inc({ type: 'samples' });
    this.#metrics.samples.inc({ outcome: 'received' }, message.count);
    const { deviceId, bootId } = connection;
    if (deviceId !== null && bootId !== null) {
      this.#wait.came(deviceId, bootId, message.firstSequence + message.count, performance.now());
    }
    const before = this.#arrivedBefore(deviceId);
    super.onSamples(connection, message);
    const after = this.#arrivedBefore(deviceId);
    this.#metrics.samples.inc({ outcome: 'repeated' }, after.repeated - before.repeated);
    this.#metrics.samples.inc({ outcome: 'late' }, after.late - before.late);
  }

  #arrivedBefore(deviceId: string | null): { repeated: number; late: number } {
    const state = deviceId === null ? null : this.sensorState(deviceId);
    return { repeated: state?.repeatedSamples ?? 0, late: state?.lateSamples ?? 0 };
  }

  override onStatus(connection: Connection, message: StatusMessage): void {
    this.#metrics.frames.inc({ type: 'status' });
    super.onStatus(connection, message);
  }

  override onExchange(connection: Connection, exchange: Exchange): void {
    this.#metrics.frames.inc({ type: 'timeResponse' });
    super.onExchange(connection, exchange);
  }

  override onGoodbye(connection: Connection): void {
    this.#metrics.frames.inc({ type: 'goodbye' });
    super.onGoodbye(connection);
  }

  override onProtocolError(connection: Connection, error: ProtocolError): void {
    this.#metrics.errors.inc({ name: error.name });
    super.onProtocolError(connection, error);
  }
}

function countedLog(log: RawLog, metrics: Metrics, wait: AcknowledgementWait): RawLog {
  return {
    streamEnd: (deviceId, bootId) => log.streamEnd(deviceId, bootId),
    append: async (batches) => {
      const stop = metrics.appendS.startTimer();
      try {
        await log.append(batches);
      } catch (error) {
        metrics.appendFailures.inc();
        throw error;
      } finally {
        stop();
      }
      const nowMs = performance.now();
      for (const { deviceId, bootId, firstSequence, count } of batches) {
        metrics.samples.inc({ outcome: 'stored' }, count);
        const waitedMs = wait.durable(deviceId, bootId, firstSequence + count, nowMs);
        if (waitedMs !== null) metrics.acknowledgementS.observe(waitedMs / 1000);
      }
    },
  };
}

export class CountedFanout extends LiveFanout {
  readonly #metrics: Metrics;
  /** Age of a stance's toe-off in ms by the server's clock; null when nobody can say. */
  readonly #sinceToeOffMs: (athleteId: string, toeOffS: number) => number | null;

  constructor(metrics: Metrics, sinceToeOffMs: (athleteId: string, toeOffS: number) => number | null) {
    super();
    this.#metrics = metrics;
    this.#sinceToeOffMs = sinceToeOffMs;
  }

  override subscribe(athleteId: string, viewer: Viewer): () => void {
    const metrics = this.#metrics;
    return super.subscribe(athleteId, {
      get bufferedAmount() {
        return viewer.bufferedAmount;
      },
      get isBehind() {
        return viewer.isBehind;
      },
      send: (text) => viewer.send(text),
      cutOff: (code, reason) => {
        metrics.viewersCutOff.inc();
        viewer.cutOff(code, reason);
      },
    });
  }

  override publish(athleteId: string, message: LiveMessage): void {
    super.publish(athleteId, message);
    if (message.type !== 'stance' || message.withdrawn || message.stance.revision > 0) return;
    const ageMs = this.#sinceToeOffMs(athleteId, message.stance.toeOff);
    if (ageMs !== null) this.#metrics.stancePublishS.observe(Math.max(0, ageMs) / 1000);
  }
}

export class CountedAnalysis extends AnalysisThread {
  readonly #metrics: Metrics;

  constructor(metrics: Metrics) {
    super();
    this.#metrics = metrics;
  }

  override analyse(inputs: RecordingInputs): ReturnType<AnalysisThread['analyse']> {
    return this.#metrics.measureAnalysis(() => super.analyse(inputs));
  }
}
