/**
 * Makes the tones with Web Audio. The falling tones of a lost signal are what sounds by itself: the page has to put them
 * off again and again, on the clock of the audio thread, so a page that hangs is heard.
 */
import type { CueTone } from './cue-tone.ts';

/** Without a word from the page for this long, the signal counts as lost. */
export const WATCHDOG_S = 0.6;
const GLIDE_S = 0.03;
const FALLS = [
  { atS: 0, fromHz: 760, toHz: 380 },
  { atS: 0.45, fromHz: 570, toHz: 285 },
] as const;
const FALL_S = 0.4;
const FALLS_PERIOD_S = 0.9;

export class CuePlayer {
  #context = new AudioContext();
  #pitch = new OscillatorNode(this.#context, { type: 'triangle', frequency: 440 });
  #pulse = new OscillatorNode(this.#context, { type: 'sine', frequency: 2 });
  #side = new GainNode(this.#context, { gain: 0 });
  #pan = new StereoPannerNode(this.#context);
  #lost = new GainNode(this.#context, { gain: 0 });
  #volume = new GainNode(this.#context, { gain: 0 });

  /** Call it in a tap: browsers start no sound by themselves. `onStopped`: the device took the sound away. */
  constructor(volume: number, onStopped: () => void) {
    this.setVolume(volume);
    // The pulse swings the gain between 0 and 1.
    const pulsed = new GainNode(this.#context, { gain: 0.5 });
    this.#pulse.connect(new GainNode(this.#context, { gain: 0.5 })).connect(pulsed.gain);
    this.#pitch.connect(pulsed).connect(this.#side).connect(this.#pan).connect(this.#volume);
    const falls = new AudioBufferSourceNode(this.#context, { buffer: fallingTones(this.#context), loop: true });
    falls.connect(this.#lost).connect(this.#volume);
    this.#volume.connect(this.#context.destination);
    for (const source of [this.#pitch, this.#pulse, falls]) source.start();
    this.#context.onstatechange = () => {
      if (this.#context.state !== 'running') onStopped();
    };
  }

  /** Rejects when the browser refuses. */
  async start(): Promise<void> {
    await this.#context.resume();
    if (this.#context.state !== 'running') throw new Error('The browser did not start the sound.');
  }

  play(tone: CueTone): void {
    this.#hold(this.#side.gain, tone.voice === 'side' ? tone.level : 0, 0);
    this.#hold(this.#lost.gain, tone.voice === 'lost' ? 1 : 0, 1);
    if (tone.voice !== 'side') return;
    this.#glide(this.#pan.pan, tone.pan);
    this.#glide(this.#pitch.frequency, tone.pitchHz);
    this.#glide(this.#pulse.frequency, tone.pulseHz);
  }

  /** 0 to 1. */
  setVolume(volume: number): void {
    this.#glide(this.#volume.gain, volume);
  }

  close(): void {
    this.#context.onstatechange = null;
    void this.#context.close();
  }

  #glide(parameter: AudioParam, value: number): void {
    const now = this.#context.currentTime;
    parameter.cancelScheduledValues(now);
    parameter.setTargetAtTime(value, now, GLIDE_S);
  }

  /** A value now, and another one by itself unless this is called again in time. */
  #hold(parameter: AudioParam, value: number, otherwise: number): void {
    this.#glide(parameter, value);
    parameter.setTargetAtTime(otherwise, this.#context.currentTime + WATCHDOG_S, GLIDE_S);
  }
}

function fallingTones(context: AudioContext): AudioBuffer {
  const buffer = context.createBuffer(1, Math.round(FALLS_PERIOD_S * context.sampleRate), context.sampleRate);
  const samples = buffer.getChannelData(0);
  for (const { atS, fromHz, toHz } of FALLS) {
    let phase = 0;
    const length = Math.round(FALL_S * context.sampleRate);
    for (let i = 0; i < length; i++) {
      const along = i / length;
      phase += (2 * Math.PI * fromHz * (toHz / fromHz) ** along) / context.sampleRate;
      // Swells and fades, so that it does not click.
      samples[Math.round(atS * context.sampleRate) + i] = Math.sin(phase) * Math.sin(Math.PI * along) ** 0.5;
    }
  }
  return buffer;
}
