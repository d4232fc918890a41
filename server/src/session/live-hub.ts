/** All athletes' feeds: samples in from ingest, messages out to the dashboards, on a steady beat. */
import { ALGORITHM_VERSION, HEARTBEAT_INTERVAL_MS } from '@ambipede/shared';
import type { LiveMessage, SensorStatus } from '@ambipede/shared';
import type { SamplesInfo, SensorState } from '../ingest/ingest.ts';
import type { TimedSample } from '../ingest/raw-samples.ts';
import type { LiveFanout } from '../live/live-fanout.ts';
import { AthleteFeed, ratesOf } from './athlete-feed.ts';
import type { Rates } from './athlete-feed.ts';
import type { Placements } from './placements.ts';
import { judgeSensor } from './sensor-status.ts';

const ANGLES_INTERVAL_MS = 50;
/** Feeds are looked at in turn, each once in half a second, so that no packet waits for all of them. */
const FEED_PERIOD_MS = 500;
const FEED_TURN_MS = 20;
/** Status of a sensor that changes is sent at once, but not more often than this. */
const STATUS_PAUSE_MS = 100;
/** Work on feeds in one go; who did not get a turn is first in the next. Samples must not wait. */
const TURN_MS_MAX = 20;

export interface LiveHubDependencies {
  fanout: LiveFanout;
  placements: Placements;
  nowUtcMs: () => number;
  sensorState: (deviceId: string) => SensorState | null;
  /** It has connected, in this or an earlier run of the server. */
  hasBeenSeen: (deviceId: string) => boolean;
  /** The pipeline was made for another rate of this athlete's sensor. */
  onRateChanged: (athleteId: string) => void;
  onMountingChanged: (feed: AthleteFeed) => void;
}

export class LiveHub {
  readonly #deps: LiveHubDependencies;
  readonly #feeds = new Map<string, AthleteFeed>();
  readonly #arrivals = new Map<string, number>();
  readonly #startCounts = new Map<string, { received: number; lost: number }>();
  readonly #statusDue = new Set<string>();
  /** Whose turn is next comes first. */
  readonly #turns: AthleteFeed[] = [];
  /** Feeds whose turn has come but that have not been looked at; a fraction is on its way. */
  #due = 0;
  #lastTurnMs = performance.now();
  readonly #timers: NodeJS.Timeout[];

  constructor(deps: LiveHubDependencies) {
    this.#deps = deps;
    this.#timers = [
      setInterval(() => this.#flushAngles(), ANGLES_INTERVAL_MS),
      setInterval(() => this.#flushStatus(), STATUS_PAUSE_MS),
      setInterval(() => this.#beat(), HEARTBEAT_INTERVAL_MS),
      setInterval(() => this.#takeTurns(), FEED_TURN_MS),
    ];
  }

  close(): void {
    for (const timer of this.#timers) clearInterval(timer);
  }

  feed(athleteId: string): AthleteFeed {
    let feed = this.#feeds.get(athleteId);
    if (!feed) {
      feed = new AthleteFeed(athleteId, this.rates(athleteId), this.#deps.nowUtcMs(), (message) =>
        this.#deps.fanout.publish(athleteId, message),
      );
      this.#feeds.set(athleteId, feed);
      this.#turns.push(feed);
    }
    return feed;
  }

  /** Nothing of the athlete is kept in memory. */
  forget(athleteId: string): void {
    const feed = this.#feeds.get(athleteId);
    if (!feed) return;
    this.#feeds.delete(athleteId);
    this.#turns.splice(this.#turns.indexOf(feed), 1);
    this.#statusDue.delete(athleteId);
  }

  /** Rates of the sensors that the athlete wears, as the devices said them. */
  rates(athleteId: string): Rates {
    const worn = this.#deps.placements.onAthlete(athleteId);
    const known: Rates = {};
    for (const { place, deviceId } of worn) {
      const rateHz = this.#deps.sensorState(deviceId)?.rateHz;
      if (rateHz) known[place] = rateHz;
    }
    return ratesOf(
      worn.map(({ place }) => place),
      known,
    );
  }

  takeSamples(deviceId: string, samples: TimedSample[], info: SamplesInfo): void {
    const now = this.#deps.nowUtcMs();
    const placed = this.#deps.placements.of(deviceId);
    if (!placed) return;
    this.#arrivals.set(deviceId, now);
    const feed = this.feed(placed.athleteId);
    if (!feed.expectsRate(placed.place, info.rateHz)) this.#deps.onRateChanged(placed.athleteId);
    feed.takeSamples(placed.place, samples, now);
  }

  sensorChanged(deviceId: string): void {
    const placed = this.#deps.placements.of(deviceId);
    if (placed) this.#statusDue.add(placed.athleteId);
  }

  /** Counts in the status begin anew. */
  resetCounts(athleteId: string): void {
    for (const { deviceId } of this.#deps.placements.onAthlete(athleteId)) {
      const state = this.#deps.sensorState(deviceId);
      this.#startCounts.set(deviceId, { received: state?.receivedSamples ?? 0, lost: state?.lostSamples ?? 0 });
    }
  }

  sensors(athleteId: string): SensorStatus[] {
    const now = this.#deps.nowUtcMs();
    return this.#deps.placements.onAthlete(athleteId).map(({ deviceId, place }) =>
      judgeSensor(
        {
          deviceId,
          place,
          state: this.#deps.sensorState(deviceId),
          seenBefore: this.#deps.hasBeenSeen(deviceId),
          lastArrivalUtcMs: this.#arrivals.get(deviceId) ?? null,
          atStart: this.#startCounts.get(deviceId) ?? { received: 0, lost: 0 },
        },
        now,
      ),
    );
  }

  snapshot(athleteId: string): LiveMessage[] {
    return [
      { type: 'hello', serverUtcMs: this.#deps.nowUtcMs(), version: ALGORITHM_VERSION, athleteId },
      this.#sensorsMessage(athleteId),
      ...this.feed(athleteId).snapshot(),
    ];
  }

  publishSensors(athleteId: string): void {
    if (this.#deps.fanout.hasViewers(athleteId)) this.#deps.fanout.publish(athleteId, this.#sensorsMessage(athleteId));
  }

  #sensorsMessage(athleteId: string): LiveMessage {
    return { type: 'sensors', serverUtcMs: this.#deps.nowUtcMs(), sensors: this.sensors(athleteId) };
  }

  #flushAngles(): void {
    for (const feed of this.#feeds.values()) feed.flushAngles();
  }

  #flushStatus(): void {
    for (const athleteId of this.#statusDue) this.publishSensors(athleteId);
    this.#statusDue.clear();
  }

  #beat(): void {
    this.#deps.fanout.publishToAll({ type: 'heartbeat', serverUtcMs: this.#deps.nowUtcMs() });
  }

  #takeTurns(): void {
    const nowMs = performance.now();
    // By the clock, not by the count of calls: a busy process calls less often.
    const share = (nowMs - this.#lastTurnMs) / FEED_PERIOD_MS;
    this.#lastTurnMs = nowMs;
    this.#due = Math.min(this.#turns.length, this.#due + this.#turns.length * share);
    const untilMs = nowMs + TURN_MS_MAX;
    for (; this.#due >= 1 && performance.now() < untilMs; this.#due -= 1) {
      const feed = this.#turns.shift()!;
      this.#turns.push(feed);
      this.#lookAt(feed);
    }
  }

  #lookAt(feed: AthleteFeed): void {
    feed.tick(this.#deps.nowUtcMs());
    if (feed.takeMountingChanged()) this.#deps.onMountingChanged(feed);
    if (!this.#deps.fanout.hasViewers(feed.athleteId)) return;
    feed.tellTask();
    this.publishSensors(feed.athleteId);
  }
}
