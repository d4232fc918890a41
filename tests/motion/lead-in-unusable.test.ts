import { expect, test } from 'vitest';
import { exampleAthlete, realistic, simulateSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { startPipeline, stepPipeline, type PipelineOutput } from '../../server/src/pipeline.ts';
import { samplesOf } from './drive.ts';

const RATE_HZ = 100;

/** Both steps are marked; what is done in the second one is given. */
function mountingsAfter(second: 'forward_bow' | 'pause') {
  const { streams } = simulateSession({
    seed: 8,
    athlete: exampleAthlete(8),
    sensors: {
      pelvis: realistic('pelvis', 8, { rateHz: RATE_HZ }),
      sternum: realistic('sternum', 9, { rateHz: RATE_HZ }),
    },
    script: [
      { kind: 'reference_stand', seconds: 6 },
      { kind: second, seconds: 9 },
      { kind: 'pause', seconds: 2 },
    ],
  });
  const state = startPipeline({ rateHz: { pelvis: RATE_HZ, sternum: RATE_HZ } });
  const out: PipelineOutput[] = [];
  for (const place of ['pelvis', 'sternum'] as const)
    out.push(...stepPipeline(state, { kind: 'samples', place, samples: samplesOf(streams[place]!) }));
  const mark = (kind: string, startS: number, endS: number) =>
    out.push(...stepPipeline(state, { kind: 'lead-in', mark: { kind, startS, endS } }));
  mark('reference_stand', 0.2, 5.8);
  mark('forward_bow', 6, 15);
  return out.flatMap((each) => (each.kind === 'mounting' ? [each] : []));
}

test('a lead-in without bows says at each sensor what to do, and gives no mounting', () => {
  const told = mountingsAfter('pause');
  expect(told.map(({ place }) => place)).toEqual(['pelvis', 'sternum']);
  for (const { report } of told) {
    expect(report).toMatchObject({ source: 'none', quaternion: null, frontalUncertaintyDeg: null });
    expect(report.remarks).toEqual([expect.stringMatching(/repeat three slow, deep bows/)]);
  }
});

test('one with bows gives a mounting', () => {
  expect(
    mountingsAfter('forward_bow')
      .slice(-2)
      .map(({ report }) => report.source),
  ).toEqual(['lead-in', 'lead-in']);
});
