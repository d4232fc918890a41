/** The two rungs below walking, from the task summaries. */
import type { LadderRung, QuietStand, Side, SingleLegStand, StanceMetricKey } from '@ambipede/shared';
import { differenceWithInterval } from '../asymmetry/difference.ts';
import { meanOf } from '../asymmetry/moments.ts';
import { STANCES_PER_SIDE_MIN } from '../asymmetry/stances-per-side.ts';

export interface StandTrial {
  sessionId: string;
  sessionUtcMs: number;
  version: string;
  stand: readonly QuietStand[];
  singleLegStand: readonly SingleLegStand[];
}

type Measured = Pick<StandTrial, 'sessionId' | 'version'> & { utcMs: number };

/** Metrics that a stand on one leg has too: in its own name, over the time held. */
const OF_SINGLE_LEG: Partial<Record<StanceMetricKey, (stand: SingleLegStand) => number | null>> = {
  swingSideDropDeg: ({ swingSideHeightDeg }) => (swingSideHeightDeg === null ? null : 0 - swingSideHeightDeg),
  leanToStanceMeanDeg: ({ leanToStanceDeg }) => leanToStanceDeg,
};
/** Metrics that ask for the lean of a segment from level. */
const LEAN_OF: Partial<Record<StanceMetricKey, 'pelvis' | 'trunk'>> = {
  swingSideDropDeg: 'pelvis',
  swingSideLiftDeg: 'pelvis',
  obliquityAtContactDeg: 'pelvis',
  leanToStanceMeanDeg: 'trunk',
  leanToStancePeakDeg: 'trunk',
};

export function singleLegRung(metric: StanceMetricKey, trials: readonly StandTrial[]): LadderRung {
  const task = 'single-leg-stand';
  const valueOf = OF_SINGLE_LEG[metric];
  if (valueOf === undefined) return { task, state: 'no such value' };
  for (const { stands, ...measured } of newestFirst(trials, ({ singleLegStand }) => singleLegStand)) {
    const of = (side: Side): number[] => stands.flatMap((stand) => (stand.side === side ? (valueOf(stand) ?? []) : []));
    const [left, right] = [of('left'), of('right')];
    if (left.length === 0 || right.length === 0) continue;
    return {
      task,
      state: 'difference of stands',
      ...measured,
      difference: meanOf(left) - meanOf(right),
      ci95: differenceWithInterval(left, right)?.ci95 ?? null,
      n: { left: left.length, right: right.length },
      tooFewStances: Math.min(left.length, right.length) < STANCES_PER_SIDE_MIN,
    };
  }
  return { task, state: 'not measured' };
}

export function restingLeanRung(metric: StanceMetricKey, trials: readonly StandTrial[]): LadderRung {
  const task = 'stand';
  const segment = LEAN_OF[metric];
  if (segment === undefined) return { task, state: 'no such value' };
  for (const { stands, ...measured } of newestFirst(trials, ({ stand }) => stand)) {
    const known = stands.filter(({ restingLeanDeg }) => restingLeanDeg[segment] !== null);
    if (known.length === 0) continue;
    const uncertainties = known.map(({ restingLeanUncertaintyDeg }) => restingLeanUncertaintyDeg[segment]);
    return {
      task,
      state: 'resting lean',
      ...measured,
      segment,
      leanDeg: meanOf(known.flatMap(({ restingLeanDeg }) => restingLeanDeg[segment] ?? [])),
      // Stands of a session share the seat, so their mean is no surer than the least sure.
      uncertaintyDeg: uncertainties.includes(null) ? null : Math.max(...uncertainties.flatMap((each) => each ?? [])),
      n: known.length,
    };
  }
  return { task, state: 'not measured' };
}

/** Stands per session and version; of one session, the version of its last trial first. */
function newestFirst<T>(
  trials: readonly StandTrial[],
  standsOf: (trial: StandTrial) => readonly T[],
): (Measured & { stands: T[] })[] {
  const groups = new Map<string, Measured & { stands: T[] }>();
  for (const trial of trials) {
    const { sessionId, sessionUtcMs: utcMs, version } = trial;
    const key = `${sessionId} ${version}`;
    const group = groups.get(key);
    if (group) group.stands.push(...standsOf(trial));
    else groups.set(key, { sessionId, utcMs, version, stands: [...standsOf(trial)] });
  }
  return [...groups.values()].sort((a, b) => a.utcMs - b.utcMs).reverse();
}
