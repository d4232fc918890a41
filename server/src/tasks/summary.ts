/** What the tasks of a recording say beyond their stances: one entry per marked span. */
import type { Contact, MountingReport, Side, Stance, TaskSummary } from '@ambipede/shared';
import type { Mark } from '../motion/types.ts';
import type { StanceFrames } from '../stance/stance-frames.ts';
import { flightsIn, longestOf } from './flights.ts';
import { halfTurns } from './half-turn.ts';
import { FEET_REMARK, measureLanding, touchAfter } from './landing.ts';
import { runUp } from './run-up.ts';
import { singleLegStand } from './single-leg-stand.ts';
import { quietStand, type Zero } from './stand.ts';
import { windowOf, type Span } from './window.ts';

export interface TaskInput {
  task: string;
  marks: readonly Mark[];
  /** The span of the result: that of the task where no mark says more. */
  spanS: readonly [number, number];
  frames: StanceFrames;
  stances: readonly Stance[];
  contacts: readonly Contact[];
  mounting: { pelvis: MountingReport | null; sternum: MountingReport | null };
}

export function summariseTasks(input: TaskInput): TaskSummary {
  const { frames, stances, contacts } = input;
  const remarks: string[] = [];
  const zero: Zero = { pelvis: zeroOf(input.mounting.pelvis), trunk: zeroOf(input.mounting.sternum) };
  const summary: TaskSummary = {
    stand: spansOf(input, 'stand').map(({ span }) =>
      quietStand(frames, span, zero, lastReference(input.marks, span), remarks),
    ),
    singleLegStand: spansOf(input, 'single-leg-stand').map(({ span, suffix }) =>
      singleLegStand(frames, span, sideOf(suffix), remarks),
    ),
    runUp: spansOf(input, 'run-up').map(({ span }) => runUp(frames, span, stances, contacts, remarks)),
    landing: spansOf(input, 'landing').flatMap(({ span, suffix }) => {
      const flight = longestOf(flightsIn(frames, windowOf(frames, span)));
      if (flight === null) {
        remarks.push('No flight was found before a landing: it is not measured.');
        return [];
      }
      const feet = suffix === 'both' ? 'both' : sideOf(suffix);
      if (feet === null) remarks.push(FEET_REMARK);
      return [measureLanding(frames, { t: touchAfter(flight, contacts), feet }, span.endS)];
    }),
    halfTurn: spansOf(input, 'half-turn').flatMap(({ span }) => halfTurns(frames, span, remarks)),
    remarks: [],
  };
  return { ...summary, remarks: [...new Set(remarks)] };
}

/** Marks of this kind, also with a suffix (`-left`, `-right`, `-both`); with none, the whole span if it is the task. */
function spansOf(input: TaskInput, kind: string): { span: Span; suffix: string | null }[] {
  const [startS, endS] = input.spanS;
  const pattern = new RegExp(`^${kind}(?:-(left|right|both))?$`);
  const found = input.marks.flatMap((mark) => {
    const match = pattern.exec(mark.kind);
    const isWithin = mark.endS > startS && mark.startS < endS;
    return match && isWithin ? [{ span: { startS: mark.startS, endS: mark.endS }, suffix: match[1] ?? null }] : [];
  });
  const whole = pattern.exec(input.task);
  return found.length === 0 && whole ? [{ span: { startS, endS }, suffix: whole[1] ?? null }] : found;
}

function sideOf(suffix: string | null): Side | null {
  return suffix === 'left' || suffix === 'right' ? suffix : null;
}

/** A zero from movement already holds the athlete's own lean, so it is none. */
export function zeroOf(report: MountingReport | null): number | null {
  const isOutside = report?.source === 'lead-in' || report?.source === 'reference stand and movement';
  return isOutside ? report.frontalUncertaintyDeg : null;
}

function lastReference(marks: readonly Mark[], span: Span): Span | null {
  return marks.filter((m) => m.kind === 'reference_stand' && m.endS <= span.startS).at(-1) ?? null;
}
