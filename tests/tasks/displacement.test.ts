/**
 * Oscillation, sway and waveforms of the synthetic athlete against its true motion. Published beside it: displacement from
 * a sacral sensor against optical capture, 24 runners, bias about 2 mm and, with a plainer filter, about 10.5 mm
 * (Sensors 2025, 25:315).
 */
import { describe, expect, it } from 'vitest';
import type { ScriptStep, SimulatedSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { WAVEFORM_POINTS, type AnalysisResult, type Side, type Stance } from '@ambipede/shared';
import { analyseRecording } from '../../server/src/analysis.ts';
import { rotate } from '../../server/src/motion/quaternion.ts';
import { DIFFERENCE_DEG } from '../motion/goals.ts';
import { recordingOf, sessionOf } from './recordings.ts';

const BIAS_M = { ideal: 0.002, realistic: 0.0105 };
const STEPS: ScriptStep[] = [
  { kind: 'walk', seconds: 20, cadencePerMin: 108 },
  { kind: 'run', seconds: 20, cadencePerMin: 170, speedMps: 3.5 },
];

type Step = Stance & { stepTimeS: number; dutyFactor: number; contactTimeS: number };

/** Where the sensor truly was, m: up and to the right of a walk or run along world x. */
function trueRange(session: SimulatedSession, step: Step, axis: 'y' | 'z'): number {
  const { motion, angles } = session.truth;
  const [lx, ly, lz] = session.sensors.pelvis.leverM;
  const at = (tS: number): number => angles.t.findIndex((t) => t >= tS);
  const place = (i: number): number => {
    const { pelvis } = motion;
    const q = { w: pelvis.qw[i]!, x: pelvis.qx[i]!, y: pelvis.qy[i]!, z: pelvis.qz[i]! };
    return pelvis[axis][i]! + rotate(q, lx, ly, lz)[axis === 'y' ? 1 : 2]!;
  };
  const from = at(step.initialContact);
  const end = at(step.initialContact + step.contactTimeS / step.dutyFactor);
  const stepEnd = at(step.initialContact + step.stepTimeS);
  // About the straight line of the stride: where it ends elsewhere, that is no movement within it.
  const line = (i: number): number => place(from) + ((place(end) - place(from)) * (i - from)) / (end - from);
  const offsets: number[] = [];
  for (let i = from; i <= stepEnd; i += 1) offsets.push(place(i) - line(i));
  return Math.max(...offsets) - Math.min(...offsets);
}

function meanError(session: SimulatedSession, result: AnalysisResult, key: 'verticalOscillationM' | 'lateralSwayM') {
  const measured = result.stances.filter((s) => s[key] !== null) as Step[];
  const errors = measured.map((s) => s[key]! - trueRange(session, s, key === 'lateralSwayM' ? 'z' : 'y'));
  return { n: errors.length, bias: errors.reduce((a, b) => a + b, 0) / errors.length };
}

describe.each(STEPS)('$kind of the synthetic athlete', (step) => {
  it.each(['ideal', 'realistic'] as const)('shows how far the pelvis moves, with %s sensors', (sensors) => {
    for (const seed of [1, 2]) {
      const session = sessionOf(seed, [step], sensors);
      const result = analyseRecording(recordingOf(session, step.kind));
      for (const key of ['verticalOscillationM', 'lateralSwayM'] as const) {
        const { n, bias } = meanError(session, result, key);
        // Nearly all steady steps: 20 s without the speeding up and slowing down.
        expect(n).toBeGreaterThan(20);
        expect(Math.abs(bias)).toBeLessThan(BIAS_M[sensors]);
      }
      expect(result.stances.every((s) => s.peakForceN === null && s.verticalStiffnessNPerM === null)).toBe(true);
    }
  });
});

describe('waveforms', () => {
  // Ideal sensors: soft tissue under a real one turns it by more than the goal for moments, which no curve can undo.
  const session = sessionOf(3, [{ kind: 'run', seconds: 20, cadencePerMin: 170, speedMps: 3.5 }], 'ideal');
  const result = analyseRecording(recordingOf(session, 'run', 70));
  const { angles } = session.truth;

  /** Mean true curve over the stances that were found. */
  function trueCurve(side: Side, column: Float64Array): number[] {
    const sign = side === 'left' ? 1 : -1;
    const own = result.stances.filter((s) => s.side === side && s.gait === 'run');
    return Array.from({ length: WAVEFORM_POINTS }, (_, k) => {
      const values = own.map((s) => {
        const tS = s.initialContact + ((s.toeOff - s.initialContact) * k) / (WAVEFORM_POINTS - 1);
        return sign * column[angles.t.findIndex((t) => t >= tS)]!;
      });
      return values.reduce((a, b) => a + b, 0) / values.length;
    });
  }

  it('have left over right within the goal for a difference, at every percent of stance', () => {
    const { left, right } = result.waveforms;
    for (const [key, column] of [
      ['swingSideHeightDeg', angles.pelvicObliquityDeg],
      ['leanToStanceDeg', angles.trunkLateralTiltDeg],
    ] as const) {
      const l = trueCurve('left', column);
      const r = trueCurve('right', column);
      l.forEach((value, k) => {
        const difference = left[key]!.mean[k]! - right[key]!.mean[k]!;
        expect(Math.abs(difference - (value - r[k]!))).toBeLessThan(DIFFERENCE_DEG);
      });
    }
  });

  it('are 51 points of mean and scatter per side, from the stances behind them', () => {
    for (const side of ['left', 'right'] as const) {
      const { n, mean, sd } = result.waveforms[side].sideBendDeg!;
      expect(n).toBe(result.stances.filter((s) => s.side === side && s.gait === 'run').length);
      expect(mean).toHaveLength(WAVEFORM_POINTS);
      expect(sd).toHaveLength(WAVEFORM_POINTS);
      const { swingSideHeightDeg, leanToStanceDeg } = result.waveforms[side];
      // Trunk tilt less obliquity, to the rounding of both.
      mean.forEach((value, k) =>
        expect(Math.abs(value - (leanToStanceDeg!.mean[k]! - swingSideHeightDeg!.mean[k]!))).toBeLessThan(0.0016),
      );
    }
  });

  it('agree with the metrics: a mean curve drops no further than the mean of the drops', () => {
    const lowest = -Math.min(...result.waveforms.left.swingSideHeightDeg!.mean);
    expect(lowest).toBeLessThanOrEqual(result.asymmetry.swingSideDropDeg!.left.mean! + 0.001);
  });

  it('and forces come with a known body mass: a push of two to three body weights at 3.5 m/s', () => {
    const { left, right } = result.asymmetry.peakForceN!;
    for (const { n, mean } of [left, right]) {
      expect(n).toBeGreaterThan(15);
      // Impulse over a step: the mean force is one body weight, half a sine wave's peak pi/2 of its mean over the contact.
      const contact = result.asymmetry.contactTimeS!.left.mean!;
      const step = result.asymmetry.stepTimeS!.left.mean!;
      const expected = (70 * 9.80665 * Math.PI * step) / (2 * contact);
      // Means of ratios are not ratios of means: within the scatter of contact times, some percent.
      expect(Math.abs(mean! / expected - 1)).toBeLessThan(0.05);
    }
  });
});
