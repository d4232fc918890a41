import { describe, expect, it } from 'vitest';
import { AwaitedSamples } from '../../server/src/session/awaited-samples.ts';

const RUN = { trialId: 'run', fromUtcMs: 1000, untilUtcMs: 2000 };
const WALK = { trialId: 'walk', fromUtcMs: 1900, untilUtcMs: 3000 };

function expecting(): AwaitedSamples {
  const awaited = new AwaitedSamples();
  awaited.expect(RUN, ['pelvis', 'sternum'], 0);
  awaited.expect(WALK, ['pelvis'], 0);
  return awaited;
}

describe('samples that trials still miss', () => {
  it('belong to every trial whose span they touch, of that device alone', () => {
    const awaited = expecting();
    expect(awaited.trialsWith('pelvis', 1500, 1950)).toEqual(['run', 'walk']);
    expect(awaited.trialsWith('sternum', 1500, 1950)).toEqual(['run']);
    expect(awaited.trialsWith('another', 1500, 1950)).toEqual([]);
  });

  it('begin with the first moment of the span and end before its last', () => {
    const awaited = expecting();
    expect(awaited.trialsWith('sternum', 500, 999)).toEqual([]);
    expect(awaited.trialsWith('sternum', 500, 1000)).toEqual(['run']);
    expect(awaited.trialsWith('sternum', 1999, 2500)).toEqual(['run']);
    expect(awaited.trialsWith('sternum', 2000, 2500)).toEqual([]);
  });

  it('are no longer missed once the trial is complete, and replaced when it is looked at again', () => {
    const awaited = expecting();
    awaited.forget('run');
    expect(awaited.trialsWith('pelvis', 1500, 1950)).toEqual(['walk']);
    awaited.expect({ ...WALK, fromUtcMs: 2500 }, ['pelvis'], 0);
    expect(awaited.trialsWith('pelvis', 1500, 1950)).toEqual([]);
    expect(awaited.trialsWith('pelvis', 2600, 2700)).toEqual(['walk']);
  });

  it('are given up when they are older than any device keeps them', () => {
    const awaited = expecting();
    awaited.expect({ trialId: 'later', fromUtcMs: 9000, untilUtcMs: 9500 }, ['pelvis'], 2500);
    expect(awaited.trialsWith('pelvis', 0, 9999)).toEqual(['walk', 'later']);
  });
});
