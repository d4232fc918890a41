/**
 * A device in software: measures from a source, keeps what is not acknowledged, and speaks the protocol over a WebSocket
 * (SPEC.md). Here: when it measures, connects, waits, restarts and ends.
 *
 *   source > sampler > boot (counter, ring buffer) > conversation > link (socket, radio)
 */
import type { ProtocolErrorName } from '../src/errors.ts';
import { SAMPLES_PER_FRAME_MAX } from '../src/layout.ts';
import { RECONNECT_PAUSE_MS_MAX, RECONNECT_PAUSE_MS_MIN, REFUSED_PAUSE_MS } from '../src/rules.ts';
import { afterClose } from './after-close.ts';
import { Boot } from './boot.ts';
import { hostNowMs, makeDeviceClock, type DeviceClock } from './clock.ts';
import { Conversation } from './conversation.ts';
import type { Reboot, VirtualSensor, VirtualSensorOptions, VirtualSensorState } from './options.ts';
import { Radio } from './radio.ts';
import { makeRandom } from './random.ts';
import { RingBuffer } from './ring-buffer.ts';
import { Sampler } from './sampler.ts';

/** Half of what the server allows, per second of the host. */
const SAMPLES_PER_SECOND_MAX = 20_000;
const STOP_WAIT_MS = 3000;
const GOODBYE_WAIT_MS = 1000;
const BOOT_IDS = 2 ** 32;

export function startVirtualSensor(options: VirtualSensorOptions): VirtualSensor {
  return new Device(options);
}

class Device implements VirtualSensor {
  readonly finished: Promise<VirtualSensorState>;
  readonly #options: VirtualSensorOptions;
  readonly #clock: DeviceClock;
  readonly #radio: Radio;
  readonly #sampler: Sampler;
  readonly #random: () => number;
  readonly #frameMs: number;
  readonly #frameSamples: number;
  readonly #boots: Boot[];
  readonly #reboots: (Reboot & { atS: number })[];
  readonly #abandoned: Conversation[] = [];
  #conversation: Conversation | null = null;
  #resolveFinished: (state: VirtualSensorState) => void = () => {};
  #samplesPerSecondMax = SAMPLES_PER_SECOND_MAX;
  #offUntilMs = -Infinity;
  #stopByMs = Infinity;
  #over = false;
  #reconnectAtMs = 0;
  #reconnectPauseMs = RECONNECT_PAUSE_MS_MIN;
  #connections = 0;
  #problem: string | null = null;
  /** What ended the connection before. */
  #closedBy: ProtocolErrorName | null = null;
  #timer: NodeJS.Timeout;

  constructor(options: VirtualSensorOptions) {
    this.#options = options;
    const { rateHz, startMs = hostNowMs(), bootedS = 10, skewPpm = 0, driftPpm = 0, speed = 1, seed = 1 } = options;
    const { frameMs = 40, bufferS = 120 } = options;
    this.#random = makeRandom(seed);
    this.#clock = makeDeviceClock({ startMs, bootedS, skewPpm, driftPpm, seed, speed });
    this.#radio = new Radio(options.radioLoss ?? [], this.#clock, this.#random);
    this.#sampler = new Sampler(options.source, rateHz, this.#clock);
    const ring = new RingBuffer(Math.ceil(bufferS * rateHz), (1e6 / rateHz) * (1 + skewPpm * 1e-6));
    this.#boots = [new Boot(options.bootId ?? Math.floor(Math.random() * BOOT_IDS), ring, this.#clock, 0)];
    this.#reboots = [...(options.reboots ?? [])];
    this.#frameMs = frameMs / speed;
    this.#frameSamples = Math.max(1, Math.min(SAMPLES_PER_FRAME_MAX, Math.round((frameMs / 1000) * rateHz)));
    this.finished = new Promise((resolve) => {
      this.#resolveFinished = resolve;
    });
    this.#timer = setInterval(() => this.#tick(), Math.max(1, this.#frameMs));
    this.#tick();
  }

  get #boot(): Boot {
    return this.#boots[this.#boots.length - 1] as Boot;
  }

  state(): VirtualSensorState {
    const total = (of: (boot: Boot) => number): number => this.#boots.reduce((sum, boot) => sum + of(boot), 0);
    return {
      connected: this.#conversation?.welcomed ?? false,
      sampled: total((boot) => boot.ring.next),
      acknowledged: total((boot) => boot.acknowledged),
      dropped: total((boot) => boot.ring.dropped),
      connections: this.#connections,
      boots: this.#boots.map((boot) => boot.report()),
      problem: this.#problem,
    };
  }

  stop(): Promise<VirtualSensorState> {
    this.#sampler.ended = true;
    this.#stopByMs = Math.min(this.#stopByMs, hostNowMs() + STOP_WAIT_MS);
    return this.finished;
  }

  reboot({ memory, offS = 0 }: Reboot): void {
    const nowMs = hostNowMs();
    this.#measure(nowMs);
    // Without power there is no closing handshake.
    this.#abandon();
    this.#offUntilMs = nowMs + (offS / (this.#options.speed ?? 1)) * 1000;
    this.#reconnectAtMs = this.#offUntilMs;
    this.#reconnectPauseMs = RECONNECT_PAUSE_MS_MIN;
    if (memory === 'lost') this.#newBoot(this.#offUntilMs);
  }

  #tick(): void {
    if (this.#over) return;
    const nowMs = hostNowMs();
    this.#measure(nowMs);
    const due = this.#reboots[0];
    if (due && this.#clock.movementSAt(nowMs) >= due.atS) {
      this.#reboots.shift();
      this.reboot(due);
    }
    const done = this.#sampler.ended && this.#boot.ring.held === 0;
    // Told to stop, and not welcome before it must have.
    const hopeless = !this.#conversation && this.#reconnectAtMs > this.#stopByMs;
    if (done || hopeless || nowMs > this.#stopByMs) return this.#finish();
    if (nowMs < this.#offUntilMs) return;
    if (this.#radio.isOff(nowMs)) this.#conversation?.break();
    else if (!this.#conversation && nowMs >= this.#reconnectAtMs && this.#radio.isReachable(nowMs)) this.#connect();
    if (this.#conversation?.isSilent(nowMs)) {
      this.#problem = 'the server has fallen silent';
      this.#abandon();
      this.#pause();
    }
    const samplesMax = (this.#samplesPerSecondMax * this.#frameMs) / 1000;
    this.#conversation?.say(nowMs, samplesMax, this.#sampler.ended);
  }

  #measure(nowMs: number): void {
    this.#sampler.measure(nowMs, (reading, measuredMs) => {
      if (measuredMs >= this.#offUntilMs) this.#boot.take(reading, measuredMs);
    });
  }

  #connect(): void {
    const conversation: Conversation = new Conversation(this.#options, this.#boot, this.#radio, this.#frameSamples, {
      onOpen: () => {
        this.#connections += 1;
      },
      onWelcome: () => {
        this.#problem = null;
        this.#closedBy = null;
        this.#reconnectPauseMs = RECONNECT_PAUSE_MS_MIN;
      },
      onProblem: (text) => {
        this.#problem = text;
      },
      onBootIdTaken: () => {
        this.#newBoot(hostNowMs());
        conversation.break();
      },
      onClose: (name) => this.#onClose(name),
    });
    this.#conversation = conversation;
  }

  #onClose(name: ProtocolErrorName | null): void {
    this.#conversation = null;
    if (this.#over) return this.#resolveFinished(this.state());
    const { longPause, newBoot, slower } = afterClose(name);
    if (newBoot === 'at once' || (newBoot === 'second time' && name === this.#closedBy)) this.#newBoot(hostNowMs());
    if (slower) this.#samplesPerSecondMax /= 2;
    this.#closedBy = name;
    this.#pause(longPause);
  }

  /** Full spread, so that devices that lost the same server do not come back at the same moment. */
  #pause(long = false): void {
    const nowMs = hostNowMs();
    if (long) {
      this.#reconnectAtMs = nowMs + REFUSED_PAUSE_MS + this.#random() * RECONNECT_PAUSE_MS_MAX;
      return;
    }
    this.#reconnectAtMs = nowMs + this.#random() * this.#reconnectPauseMs;
    this.#reconnectPauseMs = Math.min(RECONNECT_PAUSE_MS_MAX, this.#reconnectPauseMs * 2);
  }

  #newBoot(nowMs: number): void {
    this.#boots.push(this.#boot.next(nowMs));
    this.#samplesPerSecondMax = SAMPLES_PER_SECOND_MAX;
  }

  #abandon(): void {
    if (!this.#conversation) return;
    this.#conversation.abandon();
    this.#abandoned.push(this.#conversation);
    this.#conversation = null;
  }

  #finish(): void {
    this.#over = true;
    clearInterval(this.#timer);
    for (const each of this.#abandoned) each.dispose();
    const conversation = this.#conversation;
    if (!conversation) return this.#resolveFinished(this.state());
    if (!conversation.sayGoodbye()) return conversation.break();
    const giveUp = setTimeout(() => conversation.break(), GOODBYE_WAIT_MS);
    void this.finished.then(() => clearTimeout(giveUp));
  }
}
