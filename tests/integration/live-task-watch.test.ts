/** What a running task keeps of the live stream, and what it says of movements that can be written down. */
import { describe, expect, test } from 'vitest';
import type { LiveTask, MountingReport, TaskNow } from '@ambipede/shared';
import { LIVE_TASK_S_MAX, TaskWatch } from '../../server/src/session/task-watch.ts';
import { startStanceFrames } from '../../server/src/stance/stance-frames.ts';
import { framesOf } from '../tasks/frames.ts';

const SEAT: MountingReport = {
  source: 'lead-in',
  quaternion: [1, 0, 0, 0],
  frontalUncertaintyDeg: 0.6,
  remarks: [],
  details: {},
};

function nowOf<K extends TaskNow['kind']>(message: LiveTask, kind: K): Extract<TaskNow, { kind: K }> {
  expect(message.now.kind).toBe(kind);
  return message.now as Extract<TaskNow, { kind: K }>;
}

describe('a stand', () => {
  test('is not blanked by some late packets of the sternum, and is without trunk when that is away', () => {
    const told = (isLate: (t: number) => boolean) => {
      const watch = new TaskWatch({ id: 't', task: 'stand', startedUtcMs: 0 });
      watch.takeFrames(framesOf(10, { obliquityDeg: () => 3, trunkTiltDeg: (t) => (isLate(t) ? NaN : -2) }), 0);
      return watch.message([], { pelvis: SEAT, sternum: SEAT }, 0)!;
    };
    const late = told((t) => t % 1 > 0.81);
    expect(nowOf(late, 'standing').leanDeg).toEqual({ pelvis: 3, trunk: -2 });
    expect(late.summary.stand[0]!.restingLeanDeg).toEqual({ pelvis: 3, trunk: -2 });
    const away = told((t) => t > 7);
    expect(nowOf(away, 'standing').leanDeg).toEqual({ pelvis: 3, trunk: null });
    expect(away.summary.stand[0]!.restingLeanDeg).toEqual({ pelvis: 3, trunk: null });
    // Away since a second, though it was there before: the pelvis goes on.
    const gone = told((t) => t > 8.9);
    expect(nowOf(gone, 'standing')).toMatchObject({ leanDeg: { pelvis: 3, trunk: null } });
    expect(nowOf(gone, 'standing').heldS).toBeGreaterThan(9.9);
  });

  test('has no lean without a reference stand: the own stance is no zero', () => {
    const watch = new TaskWatch({ id: 't', task: 'stand', startedUtcMs: 0 });
    watch.takeFrames(framesOf(3, { obliquityDeg: () => 3, trunkTiltDeg: () => -2 }), 0);
    const found = watch.message([], {}, 0)!;
    expect(nowOf(found, 'standing').leanDeg).toEqual({ pelvis: null, trunk: null });
  });
});

describe('a half-turn', () => {
  test('of a body that never stood still, or without a sternum, has no separation', () => {
    const turning = framesOf(3, { headingDeg: (t) => 90 * t, turnDeg: () => 5 });
    const alone = framesOf(3, { headingDeg: () => 0, turnDeg: () => NaN });
    for (const frames of [turning, alone]) {
      const watch = new TaskWatch({ id: 't', task: 'half-turn', startedUtcMs: 0 });
      watch.takeFrames(frames, 0);
      expect(watch.message([], {}, 0)!.now).toEqual({
        kind: 'half-turn',
        separationDeg: null,
        largestSeparationDeg: null,
      });
    }
  });
});

describe('a running task', () => {
  test.each(['walk', 'run', 'strides'] as const)('of %s is told by its stances alone', (task) => {
    expect(TaskWatch.isFor(task)).toBe(false);
  });

  test('is not told again before newer samples come, and from its start on only', () => {
    const watch = new TaskWatch({ id: 't', task: 'stand', startedUtcMs: 61_000 });
    expect(watch.message([], {}, 60_000)).toBeNull();
    watch.takeFrames(framesOf(3, {}), 60_000);
    expect(watch.message([], {}, 60_000)).toMatchObject({ fromUtcMs: 61_000 });
    expect(watch.message([], {}, 60_000)).toBeNull();
    watch.takeFrames(framesOf(3, {}), 60_000);
    expect(watch.message([], {}, 60_000)).toBeNull();
    watch.takeFrames(framesOf(3.1, {}), 60_000);
    expect(watch.message([], {}, 60_000)).not.toBeNull();
  });

  test('that is longer than the limit is told by its last part, and says so', () => {
    const watch = new TaskWatch({ id: 't', task: 'stand', startedUtcMs: 0 });
    const overS = 5;
    watch.takeFrames(framesOf(LIVE_TASK_S_MAX + overS, {}), 0);
    const found = watch.message([], {}, 0)!;
    expect(found.utcMs - found.fromUtcMs).toBe(LIVE_TASK_S_MAX * 1000);
    expect(nowOf(found, 'standing').heldS).toBeLessThanOrEqual(LIVE_TASK_S_MAX);
    const short = new TaskWatch({ id: 't', task: 'stand', startedUtcMs: 0 });
    short.takeFrames(framesOf(LIVE_TASK_S_MAX, {}), 0);
    expect(short.message([], {}, 0)!.fromUtcMs).toBe(0);
  });

  test('without any frame says nothing', () => {
    const watch = new TaskWatch({ id: 't', task: 'stand', startedUtcMs: 0 });
    watch.takeFrames(startStanceFrames(), 0);
    expect(watch.message([], {}, 0)).toBeNull();
  });
});
