/** The centre cue without a browser: which value it follows, what it says of it, and that no signal is never the centre. */
import type { MountingReport, Stance, Task } from '@ambipede/shared';
import { STANCE_METRIC_KEYS, TASKS, type StanceMetricKey } from '@ambipede/shared';
import { describe, expect, test } from 'vitest';
import { cueSource, STANCE_CURRENT_WITHIN_MS, type CueInput } from '../../web/src/cue/cue-source.ts';
import { barPosition, cueState, DEAD_ZONES_DEG, REACH_BEYOND_DEG } from '../../web/src/cue/cue-state.ts';
import { cueTone, PITCH_HZ, PULSE_HZ } from '../../web/src/cue/cue-tone.ts';

const SESSION_START = 1_000_000;
const NOW = SESSION_START + 60_000;

function mounting(source: MountingReport['source']): MountingReport {
  return { source, quaternion: null, frontalUncertaintyDeg: null, remarks: [], details: {} };
}

function stance(side: Stance['side'], toeOff: number, values: Partial<Record<StanceMetricKey, number | null>>): Stance {
  const none = Object.fromEntries(STANCE_METRIC_KEYS.map((key) => [key, null])) as Record<StanceMetricKey, null>;
  return {
    ...none,
    ...values,
    id: toeOff,
    revision: 0,
    side,
    initialContact: toeOff,
    toeOff,
    sidePosterior: 1,
    gait: 'walk',
  };
}

function input(changes: Partial<CueInput> = {}): CueInput {
  return {
    part: 'trunk',
    stale: false,
    mounting: mounting('lead-in'),
    streaming: true,
    angleDeg: 1.5,
    task: null,
    inLeadIn: false,
    stances: [],
    sessionStartUtcMs: SESSION_START,
    serverNowMs: NOW,
    ...changes,
  };
}

describe('the state of the cue', () => {
  test('is centre up to the edge of each dead zone, on both sides, and not beyond it', () => {
    for (const zone of DEAD_ZONES_DEG) {
      for (const angle of [0, zone, -zone]) expect(cueState(angle, zone, false).kind).toBe('centre');
      expect(cueState(zone + 0.01, zone, false)).toMatchObject({ kind: 'off', side: 'left' });
      expect(cueState(-zone - 0.01, zone, false)).toMatchObject({ kind: 'off', side: 'right' });
    }
  });

  test('takes the right side up as left: docs/conventions.md', () => {
    // A thorax tilted 5 deg about the forward axis, right side up: it leans to the left.
    expect(cueState(5, 2, false)).toEqual({ kind: 'off', side: 'left', angleDeg: 5, beyond: 3 / REACH_BEYOND_DEG });
  });

  test('is lost when the value is old, missing or no number, whatever the angle', () => {
    expect(cueState(0, 2, true)).toEqual({ kind: 'lost' });
    for (const angle of [null, Number.NaN, Infinity]) expect(cueState(angle, 2, false)).toEqual({ kind: 'lost' });
  });

  test('puts the mark on the side of the lean, further out when it is further off, and never outside the bar', () => {
    const at = [90, 10, 5, 0, -5, -10, -90].map((angle) => barPosition(angle, 2));
    expect(at).toEqual([-1, -1, -0.5, 0, 0.5, 1, 1]);
  });
});

describe('the tone', () => {
  const tone = (angle: number | null, stale = false) => cueTone(cueState(angle, 2, stale));

  test('is silent in the centre only; no signal has a voice of its own', () => {
    expect(tone(1.9)).toEqual({ voice: 'silent' });
    for (const lost of [tone(null), tone(0, true), tone(9, true)]) expect(lost).toEqual({ voice: 'lost' });
  });

  test('comes to the ear of the side, higher, faster and louder with distance, the same for both sides', () => {
    const heard = [2.1, 4, 8, 10].map((angle) => {
      const [left, right] = [tone(angle), tone(-angle)];
      if (left.voice !== 'side' || right.voice !== 'side') throw new Error('There should be a tone.');
      expect([left.pan, right.pan]).toEqual([-1, 1]);
      expect({ ...left, pan: 0 }).toEqual({ ...right, pan: 0 });
      return left;
    });
    for (const key of ['pitchHz', 'pulseHz', 'level'] as const) {
      const values = heard.map((one) => one[key]);
      expect(values).toEqual([...new Set(values)].sort((a, b) => a - b));
    }
    expect(tone(500)).toMatchObject({ pitchHz: PITCH_HZ.far, pulseHz: PULSE_HZ.far, level: 1 });
  });
});

describe('what the cue follows', () => {
  test('standing, the newest angle as it is, with no trial or one of standing', () => {
    const tasks: (Task | null)[] = [null, 'stand', 'single-leg-stand-left', 'single-leg-stand-right'];
    for (const task of tasks)
      expect(cueSource(input({ task }))).toEqual({ kind: 'value', angleDeg: 1.5, stanceSide: null });
    expect(cueSource(input({ angleDeg: null }))).toEqual({ kind: 'lost', why: 'signal' });
  });

  test('walking, the newest stance: over the left foot is to the left, a swing side that drops is lower', () => {
    const of = (part: CueInput['part'], side: Stance['side']) => {
      const values = { leanToStanceMeanDeg: 3, swingSideDropDeg: 4 };
      const stances = [stance('left', 58, {}), stance(side, 59, values)];
      return cueSource(input({ task: 'walk', part, angleDeg: 20, stances }));
    };
    expect(of('trunk', 'left')).toEqual({ kind: 'value', angleDeg: 3, stanceSide: 'left' });
    expect(of('trunk', 'right')).toEqual({ kind: 'value', angleDeg: -3, stanceSide: 'right' });
    expect(of('pelvis', 'left')).toEqual({ kind: 'value', angleDeg: -4, stanceSide: 'left' });
    expect(of('pelvis', 'right')).toEqual({ kind: 'value', angleDeg: 4, stanceSide: 'right' });
  });

  test('walking, nothing when the newest stance is old, of unknown side or not measured', () => {
    const of = (...stances: Stance[]) => cueSource(input({ task: 'walk', stances }));
    const lean = { leanToStanceMeanDeg: 3 };
    const limitS = 60 - STANCE_CURRENT_WITHIN_MS / 1000;
    const lost = { kind: 'lost', why: 'stance' };
    expect(of(stance('left', limitS, lean)).kind).toBe('value');
    expect(of(stance('left', limitS - 0.001, lean))).toEqual(lost);
    expect(of(stance('unknown', 59, lean))).toEqual(lost);
    expect(of(stance('right', 58, lean), stance('left', 59, {}))).toEqual(lost);
    expect(of()).toEqual(lost);
  });

  test('nothing without a reference: a zero guessed from the movement would be the habit', () => {
    for (const source of ['movement', 'none'] as const)
      expect(cueSource(input({ mounting: mounting(source) }))).toEqual({ kind: 'lost', why: 'reference' });
    expect(cueSource(input({ mounting: undefined }))).toEqual({ kind: 'lost', why: 'reference' });
    expect(cueSource(input({ mounting: mounting('reference stand and movement') })).kind).toBe('value');
  });

  test('a lost feed or sensor is lost in every task that has a cue, and the others have none', () => {
    for (const task of TASKS) {
      expect(cueSource(input({ task, stale: true }))).toEqual({ kind: 'lost', why: 'connection' });
      const walkOrStand = /^(walk|stand|single-leg-stand.*)$/.test(task);
      const silent = cueSource(input({ task, streaming: false }));
      expect(silent).toEqual(walkOrStand ? { kind: 'lost', why: 'signal' } : { kind: 'paused', why: 'task' });
    }
    expect(cueSource(input({ inLeadIn: true }))).toEqual({ kind: 'paused', why: 'lead-in' });
  });
});
