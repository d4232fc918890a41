/** Asks some twenty times a second where the athlete is, and passes it to the bar and to the sound. */
import type { LiveState } from '../live/live-state.svelte.ts';
import { cueSource, PLACE_OF_PART, type CuePart, type CueSource } from './cue-source.ts';
import { cueState, type CueState, type DeadZoneDeg } from './cue-state.ts';
import { cueTone } from './cue-tone.ts';
import { CuePlayer } from './cue-player.ts';

const PERIOD_MS = 50;
/** Where less motion is asked for, the mark moves this seldom. The sound does not wait. */
const CALM_PERIOD_MS = 500;
/** A state is said aloud when it has lasted this long: swaying must not make a screen reader chatter. */
const ALOUD_AFTER_MS = 1000;

const TRACE_OF_PART = { pelvis: 'obliquityDeg', trunk: 'trunkTiltDeg' } as const;
const PAUSED_OR_NEW: CueState = { kind: 'lost' };

export class CueFollower {
  part = $state<CuePart>('trunk');
  deadZoneDeg = $state<DeadZoneDeg>(2);
  volume = $state(0.5);
  sounding = $state(false);
  soundFailed = $state(false);
  source = $state.raw<CueSource>({ kind: 'lost', why: 'signal' });
  cue = $state.raw<CueState>(PAUSED_OR_NEW);
  /** The state that has lasted: `centre`, a side, or why there is none. */
  settled = $state('');

  #live: LiveState;
  #player: CuePlayer | null = null;
  #timer = setInterval(() => this.#step(), PERIOD_MS);
  #calm = matchMedia('(prefers-reduced-motion: reduce)');
  #drawnAtMs = -Infinity;
  #word = '';
  #wordSinceMs = 0;

  constructor(live: LiveState) {
    this.#live = live;
    document.addEventListener('visibilitychange', this.#onVisibility);
  }

  close(): void {
    clearInterval(this.#timer);
    document.removeEventListener('visibilitychange', this.#onVisibility);
    this.stopSound();
  }

  async startSound(): Promise<void> {
    this.stopSound();
    this.soundFailed = false;
    try {
      const player = new CuePlayer(this.volume, () => this.stopSound());
      this.#player = player;
      await player.start();
      // Stopped again while it was starting.
      if (this.#player !== player) return;
      this.sounding = true;
      this.#step();
    } catch {
      this.stopSound();
      this.soundFailed = true;
    }
  }

  stopSound(): void {
    this.#player?.close();
    this.#player = null;
    this.sounding = false;
  }

  setVolume(volume: number): void {
    this.volume = volume;
    this.#player?.setVolume(volume);
  }

  #step(): void {
    const source = cueSource(this.#input());
    const cue = source.kind === 'value' ? cueState(source.angleDeg, this.deadZoneDeg, this.#live.stale) : PAUSED_OR_NEW;
    if (source.kind === 'paused') this.stopSound();
    else if (this.sounding) this.#player?.play(cueTone(cue));
    this.#settle(source, cue);
    const now = performance.now();
    // A signal that is lost is never drawn late.
    if (this.#calm.matches && cue.kind !== 'lost' && now - this.#drawnAtMs < CALM_PERIOD_MS) return;
    this.#drawnAtMs = now;
    this.source = source;
    this.cue = cue;
  }

  #input() {
    const live = this.#live;
    const place = PLACE_OF_PART[this.part];
    const trace = TRACE_OF_PART[this.part];
    const serverNowMs = live.clock.serverNowMs();
    return {
      part: this.part,
      stale: live.stale,
      mounting: live.mounting[place],
      streaming: live.sensorAt(place)?.condition === 'streaming',
      // Only while the page calls it current; then the newest one, which is up to a tick younger.
      angleDeg: live[trace] === null ? null : live.trace.current(trace, serverNowMs),
      task: live.session?.trial?.task ?? null,
      inLeadIn: (live.session?.leadInStep ?? null) !== null,
      stances: live.stances,
      sessionStartUtcMs: live.session?.startedUtcMs ?? 0,
      serverNowMs,
    };
  }

  #settle(source: CueSource, cue: CueState): void {
    const word = source.kind !== 'value' ? source.why : cue.kind === 'off' ? cue.side : cue.kind;
    const now = performance.now();
    if (word !== this.#word) {
      this.#word = word;
      this.#wordSinceMs = now;
    }
    if (now - this.#wordSinceMs >= ALOUD_AFTER_MS) this.settled = word;
  }

  /** Timers of a hidden page are too slow for a cue. */
  #onVisibility = (): void => {
    if (document.hidden) this.stopSound();
  };
}
