/** Metrics of a stance in movements that can be written down. */
import { METRICS, STANCE_METRIC_KEYS, type Side } from '@ambipede/shared';
import { describe, expect, it } from 'vitest';
import { attenuationDb, measureStance } from '../../server/src/stance/measure.ts';
import { STEADY } from '../../server/src/stance/displacement.ts';
import type { StanceFrames } from '../../server/src/stance/stance-frames.ts';
import { framesOf } from './frames.ts';

const STRIDE_S = 0.8;
const OMEGA = (2 * Math.PI) / STRIDE_S;

/** The left foot lands at 0.4 s, the right one half a stride later. */
function stance(frames: StanceFrames, side: Side, contactS = 0.25) {
  const initialContactS = side === 'left' ? 0.4 : 0.4 + STRIDE_S / 2;
  return measureStance(frames, {
    side,
    initialContactS,
    toeOffS: initialContactS + contactS,
    nextContactS: initialContactS + STRIDE_S / 2,
    nextSameContactS: initialContactS + STRIDE_S,
    gait: 'run',
  });
}

describe('the catalogue', () => {
  it('names unit, scale, zero and meaning of every metric, under its own key', () => {
    expect(Object.keys(METRICS)).toEqual([...STANCE_METRIC_KEYS]);
    for (const key of STANCE_METRIC_KEYS) {
      expect(METRICS[key].key).toBe(key);
      expect(METRICS[key].meaning).toMatch(/^[A-Z].*\.$/);
    }
  });

  it('allows percent indices for no value that can be zero or below in a sound body', () => {
    for (const key of ['chestLeadDeg', 'peakAttenuationDb'] as const) expect(METRICS[key].scale).toBe('interval');
  });
});

describe('times', () => {
  // Young runners: contact 271 ms, stride frequency 1.31 Hz, duty factor 35.5 % (J Exp Biol, Table 4; authors, Karamanidis
  // & Arampatzis 2005, from memory).
  it('make the published duty factor of the published contact time and stride frequency', () => {
    const values = measureStance(framesOf(2, {}), {
      side: 'left',
      initialContactS: 0.4,
      toeOffS: 0.4 + 0.271,
      nextContactS: 0.4 + 0.5 / 1.31,
      nextSameContactS: 0.4 + 1 / 1.31,
      gait: 'run',
    });
    expect(values.dutyFactor).toBeCloseTo(0.355, 3);
    // Like steps: contact over twice contact and flight.
    const { contactTimeS, flightTimeS } = values;
    expect(values.dutyFactor).toBeCloseTo(contactTimeS! / (2 * (contactTimeS! + flightTimeS!)), 12);
  });
});

describe('attenuation', () => {
  it('is the level of a ratio of amplitudes: 6.02 dB for half, 20 dB for a tenth, 0 for none', () => {
    expect(attenuationDb(2, 1)).toBeCloseTo(20 * Math.log10(2), 12);
    expect(attenuationDb(2, 1)).toBeCloseTo(6.0206, 4);
    expect(attenuationDb(30, 3)).toBeCloseTo(20, 12);
    expect(attenuationDb(7, 7)).toBe(0);
  });

  it('changes its sign when the sensors are swapped, and adds up over a chain', () => {
    expect(attenuationDb(3, 5)).toBeCloseTo(-attenuationDb(5, 3)!, 12);
    expect(attenuationDb(8, 2)).toBeCloseTo(attenuationDb(8, 4)! + attenuationDb(4, 2)!, 12);
  });

  it.each([
    [0, 1],
    [1, 0],
    [-1, 2],
    [1, NaN],
  ])('is not known for peaks of %d and %d', (a, b) => expect(attenuationDb(a, b)).toBeNull());
});

describe('closing of hip and shoulder', () => {
  // The hip of the swing side rises by 6 deg while its shoulder sinks by 4.
  const at = (sign: number) =>
    framesOf(2.4, {
      obliquityDeg: (t) => sign * 6 * Math.sin((Math.PI * (t - 0.4)) / 0.4),
      trunkTiltDeg: (t) => -sign * 4 * Math.sin((Math.PI * (t - 0.4)) / 0.4) + 2,
    });

  it('adds up what both ends do, whatever the zero of the sensors', () => {
    expect(stance(at(1), 'left').swingSideClosingDeg).toBeCloseTo(10, 3);
  });

  it('is the free side’s: the same movement on the other foot opens first', () => {
    expect(stance(at(-1), 'left').swingSideClosingDeg).toBeCloseTo(0, 9);
    // Half a stride later the sine has turned round.
    expect(stance(at(1), 'right').swingSideClosingDeg).toBeCloseTo(10, 3);
  });
});

describe('chest lead', () => {
  const SWING_DEG = 8;
  const turning = (zeroDeg: number, driftDegPerS = 0) =>
    framesOf(2.4, { turnDeg: (t) => zeroDeg + driftDegPerS * t + SWING_DEG * Math.sin(OMEGA * (t - 0.4)) });

  it('does not depend on where the headings have their zero', () => {
    expect(stance(turning(0), 'left').chestLeadDeg).toBeCloseTo(stance(turning(73), 'left').chestLeadDeg!, 9);
  });

  it('is the same on both feet for an athlete who is the same on both', () => {
    const { chestLeadDeg } = stance(turning(0), 'left');
    // Mean of half a wave from contact to toe-off; two frames of 5 ms at the ends.
    const mean = (SWING_DEG * (1 - Math.cos(OMEGA * 0.25))) / (OMEGA * 0.25);
    expect(Math.abs(chestLeadDeg! - mean)).toBeLessThan(SWING_DEG * OMEGA * 0.005);
    expect(stance(turning(0), 'right').chestLeadDeg).toBeCloseTo(chestLeadDeg!, 9);
  });

  it('is not measured across a new heading', () => {
    const frames = turning(0);
    frames.headingBreaks.push(0.9);
    expect(stance(frames, 'left').chestLeadDeg).toBeNull();
  });
});

describe('oscillation and sway', () => {
  const HEIGHT_M = 0.04;
  const SIDE_M = 0.02;
  const FORWARD_MPS2 = 2;
  /** Heading swings to and fro by 6 deg and drifts in a curve; the sensor's offset is what is left of tilt and scale. */
  interface Changes {
    offset?: number;
    forward?: number;
    curveDegPerS?: number;
    /** The pelvis faces that far beside the path. */
    besideDeg?: number;
    /** By how much more it sways on the left foot than on the right one, m. */
    moreLeftM?: number;
  }
  const steady = (changes: Changes = {}): StanceFrames => {
    const turn = (t: number): number => 6 * Math.cos(OMEGA * t + 0.7);
    const rad = (t: number): number => ((turn(t) + (changes.besideDeg ?? 0)) * Math.PI) / 180;
    // Braking to the middle of the step at 0.6 s, then pushing.
    const along = (t: number): number => -FORWARD_MPS2 * Math.sin(2 * OMEGA * (t - 0.4)) + (changes.forward ?? 0);
    const across = (t: number): number =>
      -SIDE_M * OMEGA ** 2 * Math.sin(OMEGA * (t - 0.4)) +
      ((changes.moreLeftM ?? 0) / 4) * (2 * OMEGA) ** 2 * Math.cos(2 * OMEGA * (t - 0.4));
    return framesOf(2.4, {
      headingDeg: (t) => turn(t) + (changes.curveDegPerS ?? 0) * t,
      pelvisUp: (t) => -HEIGHT_M * (2 * OMEGA) ** 2 * Math.cos(2 * OMEGA * t) + (changes.offset ?? 0),
      pelvisForward: (t) => along(t) * Math.cos(rad(t)) - across(t) * Math.sin(rad(t)),
      pelvisRight: (t) => across(t) * Math.cos(rad(t)) + along(t) * Math.sin(rad(t)) + (changes.offset ?? 0),
    });
  };
  /** Trapezium rule at 200 Hz on waves of 2.5 Hz, and a step that ends between two frames. */
  const SHARE = 0.01;
  const within = (value: number | null, truth: number): void =>
    expect(Math.abs(value! - truth)).toBeLessThan(SHARE * truth);

  it('are those of the waves that the accelerations were derived from', () => {
    for (const side of ['left', 'right'] as const) {
      within(stance(steady(), side).verticalOscillationM, 2 * HEIGHT_M);
      // In one step the pelvis goes out to one side and back.
      within(stance(steady(), side).lateralSwayM, SIDE_M);
    }
  });

  it('do not see a steady error of the sensor, nor a curve', () => {
    const values = stance(steady({ offset: 0.2, curveDegPerS: 20 }), 'left');
    within(values.verticalOscillationM, 2 * HEIGHT_M);
    within(values.lateralSwayM, SIDE_M);
  });

  it('do not see that the pelvis faces beside its path', () => {
    for (const side of ['left', 'right'] as const) {
      within(stance(steady({ besideDeg: 4 }), side).lateralSwayM, SIDE_M);
    }
  });

  it('see a true difference between the feet, which is largest in mid-stance', () => {
    const sway = (side: Side): number => stance(steady({ moreLeftM: 0.004, besideDeg: 4 }), side).lateralSwayM!;
    expect(Math.abs(sway('left') - sway('right') - 0.004)).toBeLessThan(2 * SHARE * SIDE_M);
  });

  it.each([
    ['speeding up', steady({ forward: STEADY.meanMps2Max + 0.1 })],
    ['slowing down', steady({ forward: -STEADY.meanMps2Max - 0.1 })],
    ['rising', steady({ offset: STEADY.meanMps2Max + 0.1 })],
  ])('are not measured when %s', (_, frames) => {
    expect(stance(frames, 'left')).toMatchObject({ verticalOscillationM: null, lateralSwayM: null });
  });

  it('are measured just inside the bound', () => {
    expect(stance(steady({ forward: STEADY.meanMps2Max - 0.01 }), 'left').lateralSwayM).not.toBeNull();
  });

  it('are not measured across a break, nor before the stride is whole', () => {
    const broken = steady();
    broken.breaks.push(1.1);
    expect(stance(broken, 'left').verticalOscillationM).toBeNull();
    const times = { side: 'left', initialContactS: 0.4, toeOffS: 0.65, nextContactS: 0.8, gait: 'run' } as const;
    expect(measureStance(steady(), { ...times, nextSameContactS: null }).verticalOscillationM).toBeNull();
  });
});
