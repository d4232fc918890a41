/** What a state of the cue sounds like. Centre is silent, so no signal must never be. */
import type { CueState } from './cue-state.ts';

export const PITCH_HZ = { near: 330, far: 880 } as const;
export const PULSE_HZ = { near: 1.5, far: 8 } as const;
/** Loud enough at the edge of the zone to be noticed, without a jolt. */
const LEVEL = { near: 0.3, far: 1 } as const;

export type CueTone =
  | { voice: 'silent' }
  /** `pan`: -1 is the left ear, 1 the right one. */
  | { voice: 'side'; pan: -1 | 1; pitchHz: number; pulseHz: number; level: number }
  /** Falling tones in both ears. */
  | { voice: 'lost' };

export function cueTone(state: CueState): CueTone {
  if (state.kind === 'lost') return { voice: 'lost' };
  if (state.kind === 'centre') return { voice: 'silent' };
  const along = ({ near, far }: { near: number; far: number }) => near + (far - near) * state.beyond;
  return {
    voice: 'side',
    pan: state.side === 'left' ? -1 : 1,
    // Equal steps of distance are equal musical steps.
    pitchHz: PITCH_HZ.near * (PITCH_HZ.far / PITCH_HZ.near) ** state.beyond,
    pulseHz: along(PULSE_HZ),
    level: along(LEVEL),
  };
}
