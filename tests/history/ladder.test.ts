import { describe, expect, test } from 'vitest';
import { LADDER_TASKS } from '../../shared/src/index.ts';
import type { QuietStand, SingleLegStand, StanceMetricKey, StanceRung } from '../../shared/src/index.ts';
import { taskLadder } from '../../server/src/history/ladder.ts';
import type { StandTrial } from '../../server/src/history/ladder-stands.ts';

const SPAN = { startS: 0, endS: 9, sway: { pelvis: null, trunk: null } };
const quiet = (pelvis: number | null, trunk: number | null, sd: number | null = 0.5): QuietStand => ({
  ...SPAN,
  restingLeanDeg: { pelvis, trunk },
  restingLeanUncertaintyDeg: { pelvis: sd, trunk: sd },
  chestLeadDeg: null,
  chestLeadUncertaintyDeg: null,
  chestLeads: null,
});
const oneLeg = (
  side: SingleLegStand['side'],
  swingSideHeightDeg: number | null,
  leanToStanceDeg = 0,
): SingleLegStand => ({
  ...SPAN,
  side,
  heldS: 8,
  swingSideHeightDeg,
  leanToStanceDeg,
  sideBendDeg: null,
  corrections: null,
});
const standing = (utcMs: number, changes: Partial<StandTrial>): StandTrial => ({
  sessionId: `at ${utcMs}`,
  sessionUtcMs: utcMs,
  version: 'v2',
  stand: [],
  singleLegStand: [],
  ...changes,
});
const trial = (task: StanceRung, utcMs: number, difference: number, version = 'v2') => ({
  ...{ task, sessionId: `at ${utcMs}`, sessionUtcMs: utcMs, version, leftN: 9, rightN: 8, difference },
  ci95: [difference - 1, difference + 1] as [number, number],
  placementUncertainty: 1,
});
type Trials = ReturnType<typeof trial>[];
const of = (trials: Trials, stands: StandTrial[] = [], metric: StanceMetricKey = 'swingSideDropDeg') =>
  taskLadder({ athleteId: 'a', metric, trials, stands });
const rung = (ladder: ReturnType<typeof of>, task: string) => ladder.rungs.find((each) => each.task === task)!;

test('every task is there in its order, and not measured is said of each that is not', () => {
  const { rungs, remarks } = of([]);
  expect(rungs).toEqual(LADDER_TASKS.map((task) => ({ task, state: 'not measured' })));
  expect(remarks).toEqual([]);
});

test('each task is of the newest session that has it', () => {
  const ladder = of([trial('run', 1, 7), trial('walk', 1, 3), trial('run', 2, 4)]);
  expect(rung(ladder, 'run')).toMatchObject({ state: 'difference', utcMs: 2, n: { left: 9, right: 8 } });
  expect(rung(ladder, 'run')).toHaveProperty('difference', expect.closeTo(4, 12));
  expect(rung(ladder, 'walk')).toMatchObject({ utcMs: 1, difference: 3 });
  expect(rung(ladder, 'strides').state).toBe('not measured');
  expect(ladder.remarks.join()).toContain('different sessions');
});

test('tasks of two versions are shown and not to be compared', () => {
  expect(of([trial('run', 1, 7, 'v1'), trial('walk', 1, 3)]).remarks.join()).toContain('different versions (v2, v1)');
});

describe('single-leg stands', () => {
  const both = standing(5, { singleLegStand: [oneLeg('left', -4, 3), oneLeg('right', 1, 1), oneLeg('left', -6, 4)] });

  test('have a drop where the swing side is below level: conventions, left minus right', () => {
    expect(rung(of([], [both]), 'single-leg-stand')).toEqual({
      ...{ task: 'single-leg-stand', state: 'difference of stands', sessionId: 'at 5', utcMs: 5, version: 'v2' },
      ...{ difference: 5 - -1, ci95: null, n: { left: 2, right: 1 }, tooFewStances: true },
    });
    const lean = rung(of([], [both], 'leanToStanceMeanDeg'), 'single-leg-stand');
    expect(lean).toMatchObject({ difference: 2.5, n: { left: 2, right: 1 } });
  });

  test('have an interval from two a side on', () => {
    const more = standing(5, { singleLegStand: [oneLeg('right', 2)] });
    const found = rung(of([], [both, more]), 'single-leg-stand');
    expect(found).toMatchObject({ n: { left: 2, right: 2 }, difference: 6.5 });
    expect(found).toHaveProperty('ci95', [expect.any(Number), expect.any(Number)]);
  });

  test('of one side, of no side or without a value are no difference: the session before is shown', () => {
    const newer = standing(6, { singleLegStand: [oneLeg('left', -4), oneLeg(null, -9), oneLeg('right', null)] });
    expect(rung(of([], [both, newer]), 'single-leg-stand')).toMatchObject({ utcMs: 5, n: { left: 2, right: 1 } });
    expect(rung(of([], [newer]), 'single-leg-stand').state).toBe('not measured');
  });

  test('of two versions in one session are not thrown together', () => {
    const other = standing(5, { version: 'v1', singleLegStand: [oneLeg('left', -40), oneLeg('right', 40)] });
    expect(rung(of([], [other, both]), 'single-leg-stand')).toMatchObject({ n: { left: 2, right: 1 } });
  });
});

describe('a quiet stand', () => {
  test('has the resting lean with its sign, of the segment that the metric is about', () => {
    const stands = [standing(5, { stand: [quiet(1, -3, 0.4), quiet(2, -5, 0.6)] })];
    expect(rung(of([], stands), 'stand')).toMatchObject({
      ...{ state: 'resting lean', segment: 'pelvis', leanDeg: 1.5, uncertaintyDeg: 0.6, n: 2 },
    });
    expect(rung(of([], stands, 'leanToStancePeakDeg'), 'stand')).toMatchObject({ segment: 'trunk', leanDeg: -4 });
  });

  test('without a sensor there is not measured, and an uncertainty that is not known is not 0', () => {
    const stands = [standing(5, { stand: [quiet(1, null, null)] })];
    expect(rung(of([], stands, 'leanToStanceMeanDeg'), 'stand').state).toBe('not measured');
    expect(rung(of([], stands), 'stand')).toMatchObject({ leanDeg: 1, uncertaintyDeg: null });
  });
});

test('a metric of steps has no such value in a stand', () => {
  const { rungs } = of([], [], 'contactTimeS');
  expect(rungs.slice(0, 3).map(({ state }) => state)).toEqual(['no such value', 'no such value', 'not measured']);
});
