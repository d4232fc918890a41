/**
 * A sensor with the axes of a mirror turns every left into a right, and no number looks odd. The bows of the lead-in tell: gravity moves in the
 * sensor's axes as dv/dt = -w x v (rigid-body kinematics, any textbook of mechanics), in a mirror with the other sign.
 */
import { describe, expect, it, test } from 'vitest';
import { exampleAthlete, realistic, simulateSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import type { ScriptStep, SimulatedSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { analyseRecording } from '../../server/src/analysis.ts';
import { startPipeline, stepPipeline, type PipelineOutput } from '../../server/src/pipeline.ts';
import type { ImuSample, Mark } from '../../server/src/motion/types.ts';
import { samplesOf } from './drive.ts';

const RATE_HZ = 100;
const PLACES = ['pelvis', 'sternum'] as const;
const BOWS_S = 9;
const SCRIPT: ScriptStep[] = [
  { kind: 'reference_stand', seconds: 6 },
  { kind: 'forward_bow', seconds: BOWS_S },
  { kind: 'pause', seconds: 2 },
  { kind: 'walk', seconds: 20, cadencePerMin: 108 },
  { kind: 'pause', seconds: 2 },
];

const asItIs = (s: ImuSample): ImuSample => s;
const MIRRORS = {
  'two axes swapped': (s: ImuSample): ImuSample => ({ ...s, ay: s.az, az: s.ay, gy: s.gz, gz: s.gy }),
  'rates with the wrong sign': (s: ImuSample): ImuSample => ({ ...s, gx: -s.gx, gy: -s.gy, gz: -s.gz }),
};

function session(seed: number, script = SCRIPT): SimulatedSession {
  return simulateSession({
    seed,
    athlete: exampleAthlete(seed),
    sensors: {
      pelvis: realistic('pelvis', seed, { rateHz: RATE_HZ }),
      sternum: realistic('sternum', seed + 100, { rateHz: RATE_HZ }),
    },
    script,
  });
}

function live({ streams, marks }: SimulatedSession, change: (s: ImuSample) => ImuSample) {
  const state = startPipeline({ rateHz: { pelvis: RATE_HZ, sternum: RATE_HZ } });
  const samples = PLACES.map((place) => ({ place, samples: samplesOf(streams[place]!).map(change) }));
  /** What comes out when all samples from one time to another go in. */
  const feed = (fromS: number, toS: number): PipelineOutput[] =>
    samples.flatMap(({ place, samples }) =>
      stepPipeline(state, {
        kind: 'samples',
        place,
        samples: samples.filter(({ tS }) => tS >= fromS && tS < toS),
      }),
    );
  const mark = (mark: Mark) => stepPipeline(state, { kind: 'lead-in', mark });
  const ofKind = (kind: string): Mark => marks.find((each) => each.kind === kind)!;
  return { feed, mark, ofKind };
}

function reportsOf(outputs: readonly PipelineOutput[]) {
  return outputs.flatMap((each) => (each.kind === 'mounting' ? [each.report] : []));
}

describe.each(Object.entries(MIRRORS))('a sensor with %s', (_name, mirror) => {
  it('is refused after the bows, and nothing comes of it', () => {
    const { feed, mark, ofKind } = live(session(4), mirror);
    feed(0, 16);
    mark(ofKind('reference_stand'));
    const reports = reportsOf(mark(ofKind('forward_bow')));
    expect(reports).toHaveLength(2);
    for (const report of reports) {
      expect(report).toMatchObject({ source: 'none', quaternion: null });
      expect(report.remarks).toEqual([expect.stringMatching(/left would be taken for right.*use another sensor/)]);
    }
    expect(feed(16, Infinity)).toEqual([]);
  });

  it('loses the mounting that movement had given it before', () => {
    const walkFirst = [...SCRIPT.slice(3), ...SCRIPT];
    const { feed, mark, ofKind } = live(session(4, walkFirst), mirror);
    const bowsEndS = ofKind('forward_bow').endS;
    const before = feed(0, bowsEndS + 1);
    expect(reportsOf(before).map(({ source }) => source)).toContain('movement');
    mark(ofKind('reference_stand'));
    mark(ofKind('forward_bow'));
    expect(feed(bowsEndS + 1, Infinity)).toEqual([]);
  });

  it('gives no contact, no side and no angle in the final analysis, which says why', () => {
    const { streams, marks } = session(4);
    const streamOf = (place: 'pelvis' | 'sternum', change: (s: ImuSample) => ImuSample) => ({
      samples: samplesOf(streams[place]!).map(change),
      rateHz: RATE_HZ,
    });
    const analyse = (pelvis: typeof mirror, sternum: typeof mirror) =>
      analyseRecording({
        task: 'walk',
        streams: { pelvis: streamOf('pelvis', pelvis), sternum: streamOf('sternum', sternum) },
        marks,
        separateClocks: false,
        spanS: [17, 39],
      });
    const right = analyse(asItIs, asItIs);
    expect(right.stances.length).toBeGreaterThan(20);
    expect(right.quality.remarks.join(' ')).not.toMatch(/mirror/);

    const wrong = analyse(mirror, mirror);
    expect([wrong.stances, wrong.contacts]).toEqual([[], []]);
    expect(wrong.angles.pelvicObliquityDeg.filter((deg) => deg !== null)).toEqual([]);
    expect(wrong.quality.remarks).toEqual([
      expect.stringMatching(/^Pelvis: no angles and no sides\. .*mirror/),
      expect.stringMatching(/^Sternum: trunk tilt is not measured\. .*mirror/),
    ]);

    const half = analyse(asItIs, mirror);
    expect(half.stances.map(({ side, initialContact }) => [side, initialContact])).toEqual(
      right.stances.map(({ side, initialContact }) => [side, initialContact]),
    );
    expect(half.angles.trunkLateralTiltDeg.filter((deg) => deg !== null)).toEqual([]);
  });
});

test('another sensor in its place and the bows once more bring everything back', () => {
  const twice: ScriptStep[] = [...SCRIPT.slice(0, 3), { kind: 'pause', seconds: 10 }, ...SCRIPT];
  const simulated = session(4, twice);
  const [first, second] = simulated.marks.filter(({ kind }) => kind === 'forward_bow');
  const [stand, standAgain] = simulated.marks.filter(({ kind }) => kind === 'reference_stand');
  const changedS = (first!.endS + standAgain!.startS) / 2;
  const { feed, mark } = live(simulated, (s) => (s.tS < changedS ? MIRRORS['rates with the wrong sign'](s) : s));
  feed(0, second!.endS + 1);
  mark(stand!);
  expect(reportsOf(mark(first!)).map(({ source }) => source)).toEqual(['none', 'none']);
  mark(standAgain!);
  expect(reportsOf(mark(second!)).map(({ source }) => source)).toEqual(['lead-in', 'lead-in']);
  expect(feed(second!.endS + 1, Infinity).some(({ kind }) => kind === 'stance')).toBe(true);
});

test('twenty athletes with right sensors are never refused nor doubted; in the mirror all are refused', () => {
  for (let seed = 1; seed <= 20; seed += 1) {
    for (const [change, source] of [
      [asItIs, 'lead-in'],
      [MIRRORS['two axes swapped'], 'none'],
    ] as const) {
      const { feed, mark, ofKind } = live(session(seed, SCRIPT.slice(0, 3)), change);
      feed(0, Infinity);
      mark(ofKind('reference_stand'));
      const reports = reportsOf(mark(ofKind('forward_bow')));
      expect([seed, ...reports.map((report) => report.source)]).toEqual([seed, source, source]);
      if (source === 'lead-in') expect(reports.flatMap(({ remarks }) => remarks).join()).not.toMatch(/turning/);
    }
  }
});

test('rates of another scale or order are remarked on, and the mounting is to be repeated', () => {
  const { feed, mark, ofKind } = live(session(4), (s) => ({ ...s, gx: 2 * s.gx, gy: 2 * s.gy, gz: 2 * s.gz }));
  feed(0, Infinity);
  mark(ofKind('reference_stand'));
  for (const { remarks } of reportsOf(mark(ofKind('forward_bow'))))
    expect(remarks[0]).toMatch(/does not fit how it tilted.*use another sensor/);
});
