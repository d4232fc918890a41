/**
 * What this server counts about itself, for Prometheus. One registry per server. No label tells of a device or a person:
 * all labels have few values that are known beforehand.
 */
import { Counter, Gauge, Histogram, Registry } from 'prom-client';

/** Seconds. Goals lie within: a group commit takes milliseconds, a stance is to be on screen within 0.25 s. */
const FAST_S = [0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10];
/** For what a device or a trial may have to wait for. */
const SLOW_S = [0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30, 60, 300, 1800];

export type Metrics = ReturnType<typeof makeMetrics>;

/** What is asked for when somebody reads the metrics. */
export interface Readings {
  queuedSamples(): number;
  queueSamplesMax: number;
  storageFailing(): boolean;
  viewers(): number;
  oldestUnacknowledgedS(): number;
}

export function makeMetrics() {
  const registry = new Registry();
  const registers = [registry];
  const counter = <L extends string>(name: string, help: string, labelNames: readonly L[] = []): Counter<L> =>
    new Counter({ name: `ambipede_${name}`, help, labelNames, registers });
  const histogram = (name: string, help: string, buckets: number[]): Histogram =>
    new Histogram({ name: `ambipede_${name}`, help, buckets, registers });
  const gauge = (name: string, help: string, read: () => number): Gauge =>
    new Gauge({
      name,
      help,
      registers,
      collect() {
        this.set(read());
      },
    });
  const connected = new Set<string>();
  let analysesPending = 0;

  gauge(
    'ambipede_sensors_connected',
    'Sensors that have been welcomed and are on a connection now',
    () => connected.size,
  );
  gauge('ambipede_analyses_pending', 'Final analyses that wait or run', () => analysesPending);
  gauge('process_resident_memory_bytes', 'Memory of this process', () => process.memoryUsage.rss());
  gauge('nodejs_heap_size_used_bytes', 'Memory of JavaScript objects', () => process.memoryUsage().heapUsed);

  return {
    registry,
    connected,
    frames: counter('ingest_frames_total', 'Frames taken from sensors, by type', ['type']),
    errors: counter('ingest_errors_total', 'Errors told to sensors, by name in the catalogue of the protocol', [
      'name',
    ]),
    samples: counter('samples_total', 'Samples, by what became of them', ['outcome']),
    appendFailures: counter('append_failures_total', 'Attempts to store that were refused; they are tried again'),
    appendS: histogram('append_seconds', 'Time that a group of batches took to be on disk', FAST_S),
    acknowledgementS: histogram(
      'acknowledgement_seconds',
      'Time from a frame of samples to its acknowledgement, one frame at a time for each sensor',
      SLOW_S,
    ),
    viewersCutOff: counter('live_viewers_cut_off_total', 'Dashboards cut off because they did not keep up'),
    stancePublishS: histogram(
      'stance_publish_seconds',
      'Time from the toe-off of a new provisional stance to its way to the dashboards, by the clock of the server',
      FAST_S,
    ),
    analysisS: histogram('analysis_seconds', 'Time that a final analysis took, the wait for its turn included', SLOW_S),
    analyses: counter('analyses_total', 'Final analyses, by outcome', ['outcome']),
    eventLoopDelayS: histogram('event_loop_delay_seconds', 'How late a timer of the event loop was', FAST_S),
    async measureAnalysis<T>(run: () => Promise<T>): Promise<T> {
      const stop = this.analysisS.startTimer();
      analysesPending += 1;
      try {
        const result = await run();
        this.analyses.inc({ outcome: 'done' });
        return result;
      } catch (error) {
        this.analyses.inc({ outcome: 'failed' });
        throw error;
      } finally {
        analysesPending -= 1;
        stop();
      }
    },
    /** Once, when the parts are there. */
    readFrom(readings: Readings): void {
      gauge('ambipede_append_queue_samples', 'Samples received and not yet on disk', readings.queuedSamples);
      gauge('ambipede_append_queue_samples_max', 'Samples at which the queue is full', () => readings.queueSamplesMax);
      gauge('ambipede_storage_failing', '1 while storing fails and is tried again', () =>
        Number(readings.storageFailing()),
      );
      gauge('ambipede_live_viewers', 'Dashboards that watch an athlete now', readings.viewers);
      gauge(
        'ambipede_acknowledgement_waiting_seconds',
        'How long the longest waiting frame of samples of a connected sensor has waited for its acknowledgement',
        readings.oldestUnacknowledgedS,
      );
    },
  };
}
