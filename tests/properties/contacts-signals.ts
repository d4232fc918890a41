/** Frames of a pelvis with known contacts, made from formulas: what the contact tests feed the stages with. */
import type { SegmentFrame } from '../../server/src/motion/types.ts';
import { flushContacts, startContacts, stepContacts } from '../../server/src/stance/contacts.ts';
import { flushSides, startSides, stepSides } from '../../server/src/stance/sides.ts';
import type { ContactEvent, SidedContact } from '../../server/src/stance/types.ts';

const G = 9.81;

export interface TrueContact {
  tS: number;
  type: ContactEvent['type'];
  side: 'left' | 'right';
}

export function still(tS: number): SegmentFrame {
  return {
    tS,
    filled: false,
    fresh: false,
    still: false,
    forward: 0,
    up: 0,
    right: 0,
    rollRate: 0,
    yawRate: 0,
    pitchRate: 0,
    lateralTilt: 0,
    forwardTilt: 0,
    heading: 0,
    tiltSigma: 0.01,
  };
}

/** Seeded, standard normal: mulberry32 and Box-Muller. */
export function normals(seed: number): () => number {
  let s = seed >>> 0;
  const uniform = (): number => {
    s = (s + 0x6d2b79f5) >>> 0;
    let t = Math.imul(s ^ (s >>> 15), 1 | s);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
  return () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
}

export interface RunningStep {
  contactS: number;
  flightS: number;
}

/**
 * Running by the sine-wave model (Morin et al. 2005, J Appl Biomech 21:167-180): the push is half a sine and its mean
 * over the step is body weight. On the right foot the ground pushes to the left.
 */
export function sineRunning(
  steps: readonly RunningStep[],
  rateHz: number,
  options: { startS?: number; noise?: () => number; noiseMps2?: number } = {},
): { frames: SegmentFrame[]; truth: TrueContact[] } {
  const { startS = 1, noise = () => 0, noiseMps2 = 0 } = options;
  const truth: TrueContact[] = [];
  const pushes: { fromS: number; toS: number; peak: number; sign: number }[] = [];
  let tS = startS;
  steps.forEach((step, i) => {
    const side = i % 2 === 0 ? 'right' : 'left';
    const peak = (Math.PI / 2) * G * (1 + step.flightS / step.contactS);
    pushes.push({ fromS: tS, toS: tS + step.contactS, peak, sign: side === 'right' ? -1 : 1 });
    truth.push({ tS, type: 'initial_contact', side }, { tS: tS + step.contactS, type: 'toe_off', side });
    tS += step.contactS + step.flightS;
  });
  // The last flight ends standing.
  truth.push({ tS, type: 'initial_contact', side: steps.length % 2 === 0 ? 'right' : 'left' });
  const frames: SegmentFrame[] = [];
  let p = 0;
  for (let k = 0; k / rateHz < tS + 0.5; k += 1) {
    const frame = still(k / rateHz);
    while (p < pushes.length - 1 && frame.tS > pushes[p]!.toS) p += 1;
    const push = pushes[p]!;
    const phase = (frame.tS - push.fromS) / (push.toS - push.fromS);
    const isDown = phase >= 0 && phase <= 1;
    const isRunning = frame.tS > startS - 0.1 && frame.tS < tS;
    const wave = isDown ? Math.sin(Math.PI * phase) : 0;
    frame.up = isDown ? push.peak * wave - G : isRunning ? -G : 0;
    frame.right = 2 * push.sign * wave;
    frame.fresh = k === 0;
    for (const key of ['up', 'forward', 'right'] as const) frame[key] += noiseMps2 * noise();
    frames.push(frame);
  }
  return { frames, truth };
}

export function standing(seconds: number, rateHz: number, noise: () => number, sizeMps2: number): SegmentFrame[] {
  return Array.from({ length: Math.round(seconds * rateHz) }, (_, k) => ({
    ...still(k / rateHz),
    fresh: k === 0,
    up: sizeMps2 * noise(),
    forward: sizeMps2 * noise() + 0.1 * Math.sin(2 * Math.PI * 0.3 * (k / rateHz)),
    right: sizeMps2 * noise(),
  }));
}

/** All outputs of both stages in order, with or without copying the whole state between any two frames. */
export function runStages(frames: readonly SegmentFrame[], rateHz: number, copies = false): SidedContact[] {
  let contacts = startContacts(rateHz);
  let sides = startSides(rateHz);
  const out: SidedContact[] = [];
  for (const frame of frames) {
    out.push(...stepSides(sides, frame, stepContacts(contacts, frame)));
    if (copies) [contacts, sides] = structuredClone([contacts, sides] as const);
  }
  out.push(...stepSides(sides, null, flushContacts(contacts)), ...flushSides(sides));
  return out;
}

/** The last word on each event, without the withdrawn, in order of time. */
export function finalOf(events: readonly SidedContact[]): SidedContact[] {
  const last = new Map(events.map((event) => [event.id, event]));
  return [...last.values()].filter((event) => !event.withdrawn).sort((a, b) => a.tS - b.tS);
}
