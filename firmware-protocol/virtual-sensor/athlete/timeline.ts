/** Lays the script out in time: spans of standing and bowing, bouts of gait, and the marks that go with them. */
import type { AthleteProfile } from './profile.ts';
import { planBout, type Bout } from './plan.ts';
import { Random } from './random.ts';
import type { ScriptStep } from './script.ts';

export interface Mark {
  kind: 'reference_stand' | 'forward_bow' | 'stand' | 'walk' | 'run' | 'run-up';
  startS: number;
  endS: number;
}

export interface StillSpan {
  kind: 'reference_stand' | 'stand' | 'pause' | 'forward_bow';
  startS: number;
  endS: number;
  bows: number;
}

export interface Timeline {
  still: StillSpan[];
  bouts: Bout[];
  marks: Mark[];
  endS: number;
}

const BOWS_USUAL = 3;

export function layOut(script: readonly ScriptStep[], profile: AthleteProfile, seed: number): Timeline {
  const timeline: Timeline = { still: [], bouts: [], marks: [], endS: 0 };
  let atS = 0;
  let headingRad = 0;
  script.forEach((step, index) => {
    const startS = atS;
    if (step.kind === 'walk' || step.kind === 'run' || step.kind === 'run-up') {
      const bout = planBout(step, profile, new Random(seed, `bout ${index}`), startS, headingRad);
      timeline.bouts.push(bout);
      atS = bout.endS;
      headingRad = bout.nodes.at(-1)!.headingRad;
    } else {
      atS = startS + step.seconds;
      const bows = step.kind === 'forward_bow' ? (step.count ?? BOWS_USUAL) : 0;
      timeline.still.push({ kind: step.kind, startS, endS: atS, bows });
    }
    if (step.kind !== 'pause') timeline.marks.push({ kind: step.kind, startS, endS: atS });
  });
  timeline.endS = atS;
  return timeline;
}
