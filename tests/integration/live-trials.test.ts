/** The provisional comparison: which stances it is about, and what the seat of the sensors could make of it. */
import { beforeAll, describe, expect, test } from 'vitest';
import { SENSOR_SIGMA } from '../../server/src/asymmetry/sensor-allowance.ts';
import { PLACES, STANCE_METRIC_KEYS, type LiveMessage, type Stance } from '@ambipede/shared';
import {
  ideal,
  randomAthlete,
  simulateSession,
  type Columns,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { stancesOfTask } from '../../server/src/asymmetry/stances-of-task.ts';
import { AthleteFeed } from '../../server/src/session/athlete-feed.ts';
import { LiveTrials, type LiveBasis } from '../../server/src/session/live-trials.ts';

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
    basis = { baseUtcMs: START, frontalUncertaintyDeg: { pelvis: null, sternum: null } };
    trials = new LiveTrials(
      (message) => told.push(message),
      () => basis,
    );
    trials.start('t', 'run', START + 10_000);
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
    basis.frontalUncertaintyDeg = { pelvis: 1, sternum: 0.1 };
    trials.mountingChanged();
    trials.publishAsymmetry();
    // 2 x 1.96 x 1 deg on what hangs on the pelvis, a tenth of it on the trunk's lean.
    expect(newest().swingSideDropDeg).toMatchObject({ verdict: 'could be placement', placementUncertainty: 3.92 });
    expect(newest().leanToStanceMeanDeg?.verdict).toBe('more than scatter');
    expect(newest().leanToStanceMeanDeg?.placementUncertainty).toBeCloseTo(0.392);
    // Free of the zero, but not of soft tissue.
    const excursion = newest().obliquityExcursionDeg;
    expect(excursion?.placementUncertainty).toBeCloseTo(1.96 * SENSOR_SIGMA.obliquityExcursionDeg!.run);
    expect(trials.snapshot().at(-1)).toEqual(told.at(-1));
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
  const told: LiveMessage[] = [];
  let feed: AthleteFeed;

  /** A trial of running from before the walk on; samples and taps come as they would. */
  beforeAll(() => {
    const { rateHz, streams, marks } = movement;
    feed = new AthleteFeed('a', {}, START, (message) => told.push(message));
    feed.restart({ id: 's', startedUtcMs: START, leadInStep: null }, { pelvis: rateHz, sternum: rateHz }, START);
    const walkS = marks.find((mark) => mark.kind === 'walk')!.startS;
    const leadIn = marks.filter((mark) => mark.kind === 'reference_stand' || mark.kind === 'forward_bow');
    const at = { pelvis: 0, sternum: 0 };
    let started = false;
    for (let untilS = 0.05; untilS < streams.pelvis.tS.at(-1)!; untilS += 0.05) {
      const nowUtcMs = START + untilS * 1000;
      if (!started && untilS >= walkS) {
        feed.startTrial('t', 'run', nowUtcMs);
        started = true;
      }
      for (const place of PLACES) {
        const columns = streams[place]!;
        const from = at[place];
        while (at[place] < columns.tS.length && columns.tS[at[place]]! < untilS) at[place] += 1;
        feed.takeSamples(place, samples(columns, from, at[place]), nowUtcMs);
      }
      while (leadIn[0] && leadIn[0].endS < untilS) {
        const { kind, startS, endS } = leadIn.shift()!;
        const step = kind as 'reference_stand' | 'forward_bow';
        feed.endLeadIn({ step, startUtcMs: START + startS * 1000, endUtcMs: START + endS * 1000 }, nowUtcMs);
      }
    }
    feed.tick(START + 60_000);
  });

  function samples(columns: Columns, from: number, to: number) {
    return Array.from({ length: to - from }, (_, i) => {
      const value = (name: keyof Columns): number => columns[name][from + i]!;
      const utcMs = START + value('tS') * 1000;
      const [ax, ay, az] = [value('ax'), value('ay'), value('az')];
      return { utcMs, ax, ay, az, gx: value('gx'), gy: value('gy'), gz: value('gz') };
    });
  }

  test('is compared over the running stances, with the placement that the lead-in leaves open', () => {
    const stances = new Map<number, Stance>();
    for (const message of told) {
      if (message.type !== 'stance') continue;
      if (message.withdrawn) stances.delete(message.stance.id);
      else stances.set(message.stance.id, message.stance);
    }
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
});
