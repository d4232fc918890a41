/** The provisional comparison: which stances it is about, and what the seat of the sensors could make of it. */
import { describe, expect, test } from 'vitest';
import { SENSOR_SIGMA } from '../../server/src/asymmetry/sensor-allowance.ts';
import { SIDES, STANCE_METRIC_KEYS, WAVEFORM_POINTS } from '@ambipede/shared';
import type { LiveMessage, MountingReport, Stance } from '@ambipede/shared';
import { ideal, randomAthlete, simulateSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { stancesOfTask } from '../../server/src/asymmetry/stances-of-task.ts';
import { LiveTrials, type LiveBasis } from '../../server/src/session/live-trials.ts';
import { startStanceFrames } from '../../server/src/stance/stance-frames.ts';
import { feedSession } from '../support/live-feed.ts';

/** Edges of a live stance are known to some ms, in which the pelvis moves by some tenths of a degree. */
const CURVE_DEG = 0.6;
const START = 1_780_000_000_000;

let nextId = 1;
function stance(side: Stance['side'], gait: Stance['gait'], initialContact: number, dropDeg = 0): Stance {
  const metrics = Object.fromEntries(STANCE_METRIC_KEYS.map((key) => [key, dropDeg])) as Record<
    (typeof STANCE_METRIC_KEYS)[number],
    number
  >;
  const toeOff = initialContact + 0.25;
  return { ...metrics, id: nextId++, revision: 0, side, gait, initialContact, toeOff, sidePosterior: 1 };
}

const seat = (frontalUncertaintyDeg: number): MountingReport => ({
  source: 'lead-in',
  quaternion: [1, 0, 0, 0],
  frontalUncertaintyDeg,
  remarks: [],
  details: {},
});

describe('the stances of a task', () => {
  const walking = stance('left', 'walk', 1);
  const running = stance('left', 'run', 2);

  test.each([
    ['walk', [walking]],
    ['run', [running]],
    ['strides', [running]],
    ['run-up', [running]],
    ['landing', [walking, running]],
    ['half-turn', [walking, running]],
    // A recording may name any task, this one too.
    ['constructor', [walking, running]],
  ])('%s are those of its gait, or all where it has none', (task, expected) => {
    expect(stancesOfTask(task, [walking, running], [])).toEqual(expected);
  });

  test('lie wholly within one of its spans', () => {
    const spans = [
      { startS: 1, endS: 1.25 },
      { startS: 1.3, endS: 2.2 },
    ];
    expect(stancesOfTask('landing', [walking, running], spans)).toEqual([walking]);
    expect(stancesOfTask('landing', [walking, running], [{ startS: 1.001, endS: 2.25 }])).toEqual([running]);
    expect(stancesOfTask('landing', [walking, running], [{ startS: 3, endS: 4 }])).toEqual([]);
  });
});

describe('a running trial', () => {
  let basis: LiveBasis;
  let told: LiveMessage[];
  let trials: LiveTrials;
  const newest = () => {
    const message = told.filter((each) => each.type === 'asymmetry').at(-1);
    return message?.type === 'asymmetry' ? message.metrics : {};
  };
  /** Eight running stances a side that differ by two degrees, each with a little scatter, after three of walking. */
  function begin(): void {
    told = [];
    basis = { baseUtcMs: START, mounting: {}, frames: startStanceFrames() };
    trials = new LiveTrials(
      (message) => told.push(message),
      () => basis,
    );
    trials.start({ id: 't', task: 'run', startedUtcMs: START + 10_000, bodyMassKg: null });
    for (let k = 0; k < 3; k++) trials.takeStance(stance('left', 'walk', 10 + k, 30), false);
    for (let k = 0; k < 8; k++) {
      trials.takeStance(stance('left', 'run', 20 + k, 4 + 0.1 * (k % 3)), false);
      trials.takeStance(stance('right', 'run', 20.5 + k, 2 + 0.1 * (k % 3)), false);
    }
    trials.publishAsymmetry();
  }

  test('shows every stance, but compares those of its task only', () => {
    begin();
    expect(told.filter((each) => each.type === 'stance')).toHaveLength(19);
    expect([newest().swingSideDropDeg?.left.n, newest().swingSideDropDeg?.right.n]).toEqual([8, 8]);
    expect(newest().swingSideDropDeg?.difference).toBeCloseTo(2);
  });

  test('says of a difference that it could be placement as soon as the mounting says so, without a new stance', () => {
    begin();
    expect(newest().swingSideDropDeg).toMatchObject({ verdict: 'more than scatter' });
    expect(newest().swingSideDropDeg).not.toHaveProperty('placementUncertainty');
    basis.mounting = { pelvis: seat(1), sternum: seat(0.1) };
    trials.mountingChanged();
    trials.publishAsymmetry();
    // 2 x 1.96 x 1 deg on what hangs on the pelvis, a tenth of it on the trunk's lean.
    expect(newest().swingSideDropDeg).toMatchObject({ verdict: 'could be placement', placementUncertainty: 3.92 });
    expect(newest().leanToStanceMeanDeg?.verdict).toBe('more than scatter');
    expect(newest().leanToStanceMeanDeg?.placementUncertainty).toBeCloseTo(0.392);
    // Free of the zero, but not of soft tissue.
    const excursion = newest().obliquityExcursionDeg;
    expect(excursion?.placementUncertainty).toBeCloseTo(1.96 * SENSOR_SIGMA.obliquityExcursionDeg!.run);
    expect(trials.snapshot()).toContainEqual(told.at(-1));
  });

  test('that has ended leaves out a stance that was still under way', () => {
    begin();
    trials.end('t', START + 27_600);
    trials.takeStance(stance('right', 'run', 27.4), false);
    trials.publishAsymmetry();
    expect(newest().swingSideDropDeg?.right.n).toBe(7);
  });

  test('takes a restart of the pipeline as new when it runs, and keeps its numbers on screen when it has ended', () => {
    begin();
    trials.withdrawAll();
    trials.publishAsymmetry();
    trials.publishWaveforms();
    expect(newest().swingSideDropDeg?.left.n).toBe(0);
    begin();
    trials.takeStance(stance('left', 'run', 29), false);
    trials.end('t', START + 30_000);
    trials.withdrawAll();
    const before = told.length;
    trials.publishAsymmetry();
    expect(told).toHaveLength(before);
  });
});

describe('an athlete who walks into a run', () => {
  const seed = 5;
  const movement = simulateSession({
    seed,
    athlete: randomAthlete(seed),
    script: [
      { kind: 'pause', seconds: 2 },
      { kind: 'reference_stand', seconds: 5 },
      { kind: 'pause', seconds: 1 },
      { kind: 'forward_bow', seconds: 9 },
      { kind: 'pause', seconds: 1 },
      { kind: 'walk', seconds: 8, cadencePerMin: 110 },
      { kind: 'pause', seconds: 1 },
      { kind: 'run', seconds: 8, cadencePerMin: 170, speedMps: 3.5 },
      { kind: 'pause', seconds: 3 },
    ],
    sensors: { pelvis: ideal('pelvis'), sternum: ideal('sternum') },
  });
  /** A trial of running from before the walk on. */
  const walkS = movement.marks.find((mark) => mark.kind === 'walk')!.startS;
  const { feed, messages: told } = feedSession(movement, {
    task: 'run',
    startS: walkS,
    endS: Infinity,
    bodyMassKg: movement.truth.bodyMassKg,
  });

  const stances = new Map<number, Stance>();
  for (const message of told) {
    if (message.type !== 'stance') continue;
    if (message.withdrawn) stances.delete(message.stance.id);
    else stances.set(message.stance.id, message.stance);
  }

  test('is compared over the running stances, with the placement that the lead-in leaves open', () => {
    const count = (gait: Stance['gait'], side: Stance['side']) =>
      [...stances.values()].filter((each) => each.gait === gait && each.side === side).length;
    expect(count('walk', 'left')).toBeGreaterThanOrEqual(4);
    expect(count('run', 'left')).toBeGreaterThanOrEqual(7);
    const message = told.filter((each) => each.type === 'asymmetry').at(-1)!;
    const metrics = message.type === 'asymmetry' ? message.metrics : {};
    expect(metrics.contactTimeS?.left.n).toBe(count('run', 'left'));
    expect(metrics.contactTimeS?.right.n).toBe(count('run', 'right'));
    const { pelvis, sternum } = feed.mounting;
    expect(pelvis?.source).toBe('lead-in');
    expect(metrics.swingSideDropDeg?.placementUncertainty).toBeCloseTo(2 * 1.96 * pelvis!.frontalUncertaintyDeg!);
    expect(metrics.leanToStanceMeanDeg?.placementUncertainty).toBeCloseTo(2 * 1.96 * sternum!.frontalUncertaintyDeg!);
    expect(metrics.contactTimeS?.placementUncertainty).toBeCloseTo(1.96 * SENSOR_SIGMA.contactTimeS!.run);
  });

  test('shows the force that the ground gave, since the body mass is known', () => {
    const running = [...stances.values()].filter((each) => each.gait === 'run' && each.peakForceN !== null);
    // In steady strides only: not at either end of eight seconds.
    expect(running.length).toBeGreaterThanOrEqual(6);
    const mean = (values: number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
    const truth = movement.truth.stances.filter((each) => each.task === 'run' && each.steady);
    const ratio = mean(running.map((each) => each.peakForceN!)) / mean(truth.map((each) => each.peakForceN));
    // The sine wave takes off 0.67 to 6.93 % (Morin et al. 2005); contact times of a live stance are known to 5 ms of 240.
    expect(ratio).toBeGreaterThan(0.9);
    expect(ratio).toBeLessThan(1.04);
  });

  test('shows the angles over the running stances, left and right, as the body moved', () => {
    const all = told.filter((each) => each.type === 'waveforms');
    expect(all.length).toBeGreaterThan(5);
    all.forEach((each, k) => expect(k === 0 || each.waveforms).not.toEqual(all[k - 1]?.waveforms));
    const newest = all.at(-1)!.waveforms;
    for (const side of SIDES) {
      const own = [...stances.values()].filter((each) => each.gait === 'run' && each.side === side);
      expect(newest[side].swingSideHeightDeg?.n).toBe(own.length);
      expect(newest[side].swingSideHeightDeg?.sd).toHaveLength(WAVEFORM_POINTS);
      const error = (
        key: 'swingSideHeightDeg' | 'leanToStanceDeg',
        angle: 'pelvicObliquityDeg' | 'trunkLateralTiltDeg',
      ) => rmsBetween(newest[side][key]!.mean, trueCurve(own, angle));
      expect(error('swingSideHeightDeg', 'pelvicObliquityDeg')).toBeLessThan(CURVE_DEG);
      expect(error('leanToStanceDeg', 'trunkLateralTiltDeg')).toBeLessThan(CURVE_DEG);
    }
  });

  /** Mean over the true stances that these are, with the sign of their side. */
  function trueCurve(shown: readonly Stance[], angle: 'pelvicObliquityDeg' | 'trunkLateralTiltDeg'): number[] {
    const { angles, stances: truth } = movement.truth;
    const own = shown.map((each) => truth.find((one) => Math.abs(one.initialContact - each.initialContact) < 0.1)!);
    expect(own.map((one) => one.side)).toEqual(shown.map((each) => each.side));
    return Array.from({ length: WAVEFORM_POINTS }, (_, k) => {
      const values = own.map(({ initialContact, toeOff }) => {
        const tS = initialContact + ((toeOff - initialContact) * k) / (WAVEFORM_POINTS - 1);
        return angles[angle][angles.t.findIndex((t) => t >= tS)]!;
      });
      return ((own[0]!.side === 'left' ? 1 : -1) * values.reduce((sum, value) => sum + value, 0)) / values.length;
    });
  }
});

function rmsBetween(a: readonly number[], b: readonly number[]): number {
  return Math.sqrt(a.reduce((sum, value, k) => sum + (value - b[k]!) ** 2, 0) / a.length);
}
