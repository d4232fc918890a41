/** Everything that the live page shows of one athlete, as the feed tells it. */
import type {
  LiveMessage,
  LiveSession,
  LiveTask,
  LiveWaveforms,
  MetricAsymmetry,
  MountingReport,
  Place,
  SensorStatus,
  Stance,
  StanceMetricKey,
  Task,
  TrialSummary,
  TrialView,
} from '@ambipede/shared';
import { isWithoutRight } from '../access/refused-feed.ts';
import { who } from '../access/who.svelte.ts';
import { api } from '../api.ts';
import { TraceBuffer } from '../charts/trace-buffer.ts';
import { FeedClock } from './feed-clock.svelte.ts';
import { openLiveSocket, type LiveSocket } from './live-socket.ts';
import { Paced } from './paced.svelte.ts';
import { withStance } from './stance-list.ts';

/** How often a stopped trial is asked for until its final result is there. */
const FOLLOW_PERIOD_MS = 1500;
/** Every metric at once is much to draw, and nobody reads it faster. */
const TABLE_PERIOD_MS = 500;
/** A task is told every half second while samples come: what is older than this is not how it is now. */
export const TASK_CURRENT_WITHIN_MS = 2000;

type Metrics = Partial<Record<StanceMetricKey, MetricAsymmetry>>;

export class LiveState {
  readonly clock = new FeedClock(() => this.#tick());
  readonly trace = new TraceBuffer();

  /** undefined until the feed has said. */
  session = $state.raw<LiveSession | null | undefined>(undefined);
  sensors = $state.raw<SensorStatus[]>([]);
  mounting = $state.raw<Partial<Record<Place, MountingReport>>>({});
  obliquityDeg = $state<number | null>(null);
  trunkTiltDeg = $state<number | null>(null);
  /** Seconds since the running trial started. */
  trialS = $state(0);

  /** The trial on screen: the running one, else the last one. */
  trialId = $state<string | null>(null);
  /** Its task and start; null until somebody has said. */
  trialTask = $state<Task | null>(null);
  trialStartedUtcMs = $state<number | null>(null);
  stances = $state.raw<readonly Stance[]>([]);
  asymmetry = $state.raw<Metrics>({});
  /** The same, at the pace of the table of every metric. */
  readonly table = new Paced<Metrics>({}, TABLE_PERIOD_MS);
  /** What the task says so far, as told last; `taskCurrent`: that is how it is now. */
  task = $state.raw<LiveTask | null>(null);
  taskCurrent = $state(false);
  waveforms = $state.raw<LiveWaveforms | null>(null);
  /** The trial as the server keeps it; null while it runs. */
  stored = $state.raw<TrialView | null>(null);
  final = $state(false);
  problem = $state<string | null>(null);
  /** Why the server closed the feed, if it said so. */
  refusal = $state<string | null>(null);
  /** Whoever looks may not see this athlete, or no longer: nothing of the feed is kept. */
  notAllowed = $state(false);

  #socket: LiveSocket;
  #follow: ReturnType<typeof setTimeout> | undefined;

  constructor(athleteId: string) {
    this.#socket = openLiveSocket(athleteId, {
      onMessage: (message) => this.#take(message),
      onRefused: (reason, code) => this.#refused(reason, code),
    });
  }

  get stale(): boolean {
    return this.clock.state !== 'alive';
  }

  close(): void {
    this.#socket.close();
    this.clock.stop();
    this.table.stop();
    clearTimeout(this.#follow);
  }

  sensorAt(place: Place): SensorStatus | null {
    return this.sensors.find((sensor) => sensor.place === place) ?? null;
  }

  /** The answer to a start: shown at once, before the feed says the same. */
  started(trial: TrialSummary): void {
    this.#showTrial(trial.id, trial);
  }

  #take(message: LiveMessage): void {
    switch (message.type) {
      case 'hello':
        // A new connection tells the trial from its start; what was withdrawn or changed meanwhile must not stay.
        if (!this.final) this.#clearProvisional();
        this.refusal = null;
        return this.clock.heartbeat(message.serverUtcMs);
      case 'heartbeat':
        return this.clock.heartbeat(message.serverUtcMs);
      case 'session':
        return this.#takeSession(message.session);
      case 'sensors':
        this.sensors = message.sensors;
        return;
      case 'angles':
        return this.trace.push(message.utcMs, message.pelvicObliquityDeg, message.trunkLateralTiltDeg, {
          obliquityDeg: !this.#delivers('pelvis'),
          trunkTiltDeg: !this.#delivers('sternum'),
        });
      case 'stance':
        if (message.trialId !== this.trialId || this.final) return;
        this.stances = withStance(this.stances, message.stance, message.withdrawn);
        return;
      case 'asymmetry':
        if (this.trialId === null) this.#showTrial(message.trialId);
        // A provisional result that comes after the final one is late, not newer.
        if (message.trialId !== this.trialId || (this.final && message.provisional)) return;
        this.asymmetry = message.metrics;
        this.table.offer(message.metrics);
        if (!this.final && this.session?.trial?.trialId !== this.trialId) void this.#followTrial(message.trialId);
        return;
      case 'task':
        if (message.trialId === this.trialId && !this.final) this.task = message;
        return;
      case 'waveforms':
        if (message.trialId === this.trialId && !this.final) this.waveforms = message.waveforms;
        return;
      case 'mounting':
        this.mounting = message.mounting;
        return;
    }
  }

  #refused(reason: string, code: number): void {
    this.refusal = reason;
    if (!isWithoutRight(code)) return;
    this.notAllowed = true;
    this.close();
    this.trace.clear();
    this.session = undefined;
    this.sensors = [];
    this.mounting = {};
    this.stored = null;
    this.trialId = null;
    this.#clearProvisional();
    // Perhaps nobody is signed in any more: then the answer brings the sign-in page.
    void who.ask();
  }

  #takeSession(session: LiveSession | null): void {
    const before = this.session?.trial ?? null;
    const trial = session?.trial ?? null;
    this.session = session;
    if (session === null) this.mounting = {};
    if (trial !== null) this.#showTrial(trial.trialId, trial);
    else if (before !== null) void this.#followTrial(before.trialId);
  }

  #showTrial(trialId: string, known?: { task: Task; startedUtcMs: number }): void {
    if (trialId !== this.trialId) {
      clearTimeout(this.#follow);
      this.trialId = trialId;
      this.trialTask = null;
      this.trialStartedUtcMs = null;
      this.stored = null;
      this.final = false;
      this.problem = null;
      this.#clearProvisional();
    }
    if (known === undefined) return;
    this.trialTask = known.task;
    this.trialStartedUtcMs = known.startedUtcMs;
  }

  #clearProvisional(): void {
    this.stances = [];
    this.asymmetry = {};
    this.table.replace({});
    this.task = null;
    this.taskCurrent = false;
    this.waveforms = null;
  }

  /** After the stop: the final stances and numbers replace the provisional ones as soon as they exist. */
  async #followTrial(trialId: string): Promise<void> {
    clearTimeout(this.#follow);
    const trial: TrialView | null = await api.trial(trialId).catch(() => null);
    if (trialId !== this.trialId || this.final) return;
    if (trial !== null) {
      this.stored = trial;
      this.trialTask ??= trial.task;
    }
    if (trial?.state === 'final') {
      this.stances = trial.stances;
      this.asymmetry = trial.asymmetry;
      this.table.replace(trial.asymmetry);
      this.final = true;
    } else if (trial?.state === 'failed') {
      this.problem = trial.problem ?? '';
    } else {
      this.#follow = setTimeout(() => void this.#followTrial(trialId), FOLLOW_PERIOD_MS);
    }
  }

  /** What a silent sensor seems to send is not drawn. One that catches up sends its own past: that is. */
  #delivers(place: Place): boolean {
    const condition = this.sensorAt(place)?.condition;
    return condition === 'streaming' || condition === 'catching-up';
  }

  #tick(): void {
    const now = this.clock.serverNowMs();
    const current = (place: Place, name: 'obliquityDeg' | 'trunkTiltDeg') =>
      this.stale || this.sensorAt(place)?.condition !== 'streaming' ? null : this.trace.current(name, now);
    this.obliquityDeg = current('pelvis', 'obliquityDeg');
    this.trunkTiltDeg = current('sternum', 'trunkTiltDeg');
    this.taskCurrent = !this.stale && this.task !== null && now - this.task.utcMs <= TASK_CURRENT_WITHIN_MS;
    const trial = this.session?.trial;
    if (trial && !this.stale) this.trialS = Math.max(0, Math.floor((now - trial.startedUtcMs) / 1000));
  }
}
