/** What the program says of how the sensors sit. */
import { describe, expect, it } from 'vitest';
import { realistic } from '../../firmware-protocol/virtual-sensor/athlete/index.ts';
import { analyseRecording } from '../../server/src/analysis.ts';
import { samplesOf } from './drive.ts';
import { sessionOf } from './sessions.ts';

const LEAD_IN = [
  { kind: 'pause', seconds: 2 },
  { kind: 'reference_stand', seconds: 6 },
  { kind: 'forward_bow', seconds: 12 },
  { kind: 'pause', seconds: 2 },
] as const;

function qualityOf(seed: number, exchange: boolean) {
  const session = sessionOf(seed, [...LEAD_IN], {
    pelvis: realistic('pelvis', seed),
    sternum: realistic('sternum', seed + 40),
  });
  const [lower, upper] = [session.streams.pelvis, session.streams.sternum!].map((c) => ({
    samples: samplesOf(c),
    rateHz: session.rateHz,
  }));
  return analyseRecording({
    task: 'stand',
    streams: exchange ? { pelvis: upper!, sternum: lower! } : { pelvis: lower!, sternum: upper! },
    marks: session.marks,
    separateClocks: false,
    spanS: [0, Infinity],
  }).quality;
}

describe('pelvis and sternum sensor exchanged', () => {
  it.each([1, 2, 3, 4, 5])('are said to be, and only then (athlete %d)', (seed) => {
    const said = (exchange: boolean): boolean => /may be exchanged/.test(qualityOf(seed, exchange).remarks.join(' '));
    expect(said(true)).toBe(true);
    expect(said(false)).toBe(false);
  });
});

describe('the seat of a sensor', () => {
  it('is told by its axes, so that an upside-down sensor is seen', () => {
    const { mounting } = qualityOf(2, false);
    for (const place of ['pelvis', 'sternum'] as const) {
      expect(mounting[place]?.seat).toMatch(
        /^The sensor's [+-][xyz] axis points up and its [+-][xyz] axis forwards\.$/,
      );
    }
  });
});
