/** Between the tap on start or stop and the moment at which the store has it, stances come. */
import { describe, expect, test } from 'vitest';
import type { LiveMessage } from '@ambipede/shared';
import { LiveTrials } from '../../server/src/session/live-trials.ts';
import { startStanceFrames } from '../../server/src/stance/stance-frames.ts';
import { makeStance } from '../support/sample-result.ts';

const START = 1_780_000_000_000;

describe('a trial that is known later than it was asked for', () => {
  const told: LiveMessage[] = [];
  const trials = new LiveTrials(
    (message) => told.push(message),
    () => ({ baseUtcMs: START, mounting: {}, frames: startStanceFrames() }),
  );
  const [before, within, after] = [1, 2, 3].map((s) => ({
    ...makeStance(s, 'left'),
    initialContact: s,
    toeOff: s + 0.25,
  }));
  const ids = (withdrawn: boolean) =>
    told.flatMap((each) => (each.type === 'stance' && each.withdrawn === withdrawn ? [each.stance.id] : []));

  test('has the stances since then, once the dashboards know of it', () => {
    trials.takeStance(before!, false);
    trials.takeStance(within!, false);
    trials.start({ id: 'late', task: 'run', startedUtcMs: START + 1500, bodyMassKg: null });
    expect(told).toEqual([]);
    trials.tellSinceStart('late');
    expect(ids(false)).toEqual([within!.id]);
  });

  test('loses those that came after its end', () => {
    trials.takeStance(after!, false);
    expect(ids(false)).toEqual([within!.id, after!.id]);
    trials.end('late', START + 2900);
    expect(ids(true)).toEqual([after!.id]);
  });

  test('gets none of a pipeline of before, which counted its stances itself', () => {
    trials.withdrawAll();
    told.length = 0;
    trials.start({ id: 'next', task: 'run', startedUtcMs: START, bodyMassKg: null });
    trials.tellSinceStart('next');
    expect(told).toEqual([]);
  });
});
