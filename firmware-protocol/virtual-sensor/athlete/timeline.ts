/** Lays the script out in time: spans of standing and bowing, bouts of gait, acts on the spot, and the marks that go with them. */
import { isActStep, planAct, type Act } from './acts.ts';
import type { AthleteProfile } from './profile.ts';
import { planBout, type Bout } from './plan.ts';
import { Random } from './random.ts';
import type { ScriptStep } from './script.ts';

export interface Mark {
  /** `reference_stand`, `forward_bow`, or a task, with its side where it has one. */
  kind: string;
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
  acts: Act[];
  marks: Mark[];
  endS: number;
}

const BOWS_USUAL = 3;

export function layOut(script: readonly ScriptStep[], profile: AthleteProfile, seed: number): Timeline {
  const timeline: Timeline = { still: [], bouts: [], acts: [], marks: [], endS: 0 };
  let atS = 0;
  let headingRad = 0;
  script.forEach((step, index) => {
    const startS = atS;
    if (step.kind === 'walk' || step.kind === 'run' || step.kind === 'run-up' || step.kind === 'strides') {
      const bout = planBout(step, profile, new Random(seed, `bout ${index}`), startS, headingRad);
      timeline.bouts.push(bout);
      atS = bout.endS;
      headingRad = bout.nodes.at(-1)!.headingRad;
    } else if (isActStep(step)) {
      const act = planAct(step, profile, new Random(seed, `act ${index}`), startS, headingRad);
      timeline.acts.push(act);
      atS = act.endS;
      headingRad = act.endHeadingRad;
      timeline.marks.push({ kind: act.mark, startS, endS: atS });
      return;
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
