/** How a sensor sits when there was no lead-in: weaker, and said so; left and right must still come out right. */
import { describe, expect, it } from 'vitest';
import { realistic, type SimulatedSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { analyseRecording } from '../../server/src/analysis.ts';
import { conjugate, multiply, rotate } from '../../server/src/motion/quaternion.ts';
import { fuseAll, mountingOf, samplesOf } from './drive.ts';
import { sessionOf } from './sessions.ts';

const GAITS = {
  walk: { kind: 'walk', seconds: 20, cadencePerMin: 108 },
  run: { kind: 'run', seconds: 20, cadencePerMin: 170, speedMps: 3.5 },
} as const;

const SEEDS = [1, 2, 3, 4, 5, 6];
const sessions = new Map<string, SimulatedSession>();

function sessionIn(gait: keyof typeof GAITS, seed: number): SimulatedSession {
  const key = `${gait} ${seed}`;
  const rest = { kind: 'pause', seconds: 3 } as const;
  const sensors = { pelvis: realistic('pelvis', seed), sternum: realistic('sternum', seed + 50) };
  const session = sessions.get(key) ?? sessionOf(seed, [rest, GAITS[gait], rest], sensors);
  sessions.set(key, session);
  return session;
}

/** Sensors whose forward axis, as the whole analysis has it, points to the back of the body. */
function turnedRound(gait: keyof typeof GAITS, span: { fromS: number; toS: number }): string[] {
  const wrong: string[] = [];
  for (const seed of SEEDS) {
    const session = sessionIn(gait, seed);
    const stream = (place: 'pelvis' | 'sternum') => ({
      samples: samplesOf(session.streams[place]!).filter((s) => s.tS >= span.fromS && s.tS <= span.toS),
      rateHz: session.rateHz,
    });
    const { quality } = analyseRecording({
      task: gait,
      streams: { pelvis: stream('pelvis'), sternum: stream('sternum') },
      marks: [],
      separateClocks: false,
      spanS: [span.fromS, span.toS],
    });
    for (const place of ['pelvis', 'sternum'] as const) {
      expect(quality.mounting[place]?.source).toBe('movement');
      const [a, b, c, d] = quality.mounting[place]!.quaternion!;
      const [w, x, y, z] = session.truth.mounting[place]!;
      const off = multiply({ w: a, x: b, y: c, z: d }, conjugate({ w, x, y, z }));
      if (rotate(off, 1, 0, 0)[0] < 0) wrong.push(`athlete ${seed} ${place}`);
    }
  }
  return wrong;
}

describe('without a lead-in, front and back are told right', () => {
  it.each(['walk', 'run'] as const)('from a %s that begins and ends standing', (gait) => {
    expect(turnedRound(gait, { fromS: 0, toS: Infinity })).toEqual([]);
  });

  it.each(['walk', 'run'] as const)('from the middle of a straight %s, where nobody stands', (gait) => {
    expect(turnedRound(gait, { fromS: 8, toS: 18 })).toEqual([]);
  });
});

describe('a seat told from movement', () => {
  const session = sessionIn('walk', 4);
  const report = mountingOf(
    { ...session, marks: [] },
    fuseAll(samplesOf(session.streams.pelvis), session.rateHz).final,
  )!.report;

  it('says that it is weaker and what would mend it', () => {
    expect(report.remarks.join(' ')).toMatch(/reference stand and the bows/);
  });

  it('is less certain than one told from a lead-in', () => {
    expect(report.frontalUncertaintyDeg).toBeGreaterThan(1);
  });

  it('is not told from standing alone', () => {
    const still = sessionOf(4, [{ kind: 'pause', seconds: 10 }], { pelvis: realistic('pelvis', 4) });
    const poses = fuseAll(samplesOf(still.streams.pelvis), still.rateHz).final;
    expect(mountingOf({ ...still, marks: [] }, poses)).toBeNull();
  });
});
