/**
 * Sine-wave method: Morin et al. 2005, J Appl Biomech 21:167-180. The paper's formulas are from memory and its own worked
 * numbers were not at hand; the figures below were computed from them with g = 9.81 and agree with the equation of
 * motion, which is integrated here once more.
 */
import { describe, expect, it } from 'vitest';
import { sineWaveStep, withForces } from '../../server/src/stance/sine-wave.ts';
import { makeStance } from '../support/sample-result.ts';

const G = 9.81;

const WORKED = [
  { massKg: 70, contactS: 0.25, flightS: 0.1, peakForceN: 1510.13, sinkingM: 0.059974, stiffnessNPerM: 25179.8 },
  { massKg: 70, contactS: 0.22, flightS: 0.14, peakForceN: 1765.09, sinkingM: 0.064305, stiffnessNPerM: 27448.6 },
  { massKg: 75, contactS: 0.24, flightS: 0.12, peakForceN: 1733.57, sinkingM: 0.064265, stiffnessNPerM: 26975.3 },
];

/** A body that lands with the speed of half the flight and is pushed by half a sine wave. */
function integrate(massKg: number, contactS: number, flightS: number, peakForceN: number) {
  const steps = 20_000;
  const dt = contactS / steps;
  let velocity = (-G * flightS) / 2;
  let height = 0;
  let lowest = 0;
  for (let i = 0; i < steps; i += 1) {
    const push = peakForceN * Math.sin((Math.PI * (i + 0.5) * dt) / contactS);
    const before = velocity;
    velocity += (push / massKg - G) * dt;
    height += ((before + velocity) / 2) * dt;
    lowest = Math.min(lowest, height);
  }
  return { leaveMps: velocity, sinkingM: -lowest };
}

describe('the sine-wave method', () => {
  it.each(WORKED)('gives the worked figures for $massKg kg, $contactS s and $flightS s', (row) => {
    const step = sineWaveStep(row.massKg, row.contactS, row.flightS, G)!;
    expect(Math.abs(step.peakForceN - row.peakForceN)).toBeLessThan(0.005 + 1e-9);
    expect(Math.abs(step.sinkingM - row.sinkingM)).toBeLessThan(0.5e-6 + 1e-12);
    // Printed to a tenth.
    expect(Math.abs(step.stiffnessNPerM - row.stiffnessNPerM)).toBeLessThan(0.05 + 1e-6);
  });

  it.each(WORKED)('obeys the equation of motion for $massKg kg, $contactS s and $flightS s', (row) => {
    const step = sineWaveStep(row.massKg, row.contactS, row.flightS, G)!;
    const { leaveMps, sinkingM } = integrate(row.massKg, row.contactS, row.flightS, step.peakForceN);
    expect(leaveMps).toBeCloseTo((G * row.flightS) / 2, 6);
    expect(sinkingM).toBeCloseTo(step.sinkingM, 7);
  });

  it('gives the peak in body weights whatever the mass, and forces in proportion to it', () => {
    const one = sineWaveStep(60, 0.25, 0.1, G)!;
    const other = sineWaveStep(90, 0.25, 0.1, G)!;
    // 2.1991 body weights, as computed beside the first row.
    expect(one.peakForceN / (60 * G)).toBeCloseTo(2.1991, 4);
    expect(other.stiffnessNPerM / one.stiffnessNPerM).toBeCloseTo(1.5, 12);
  });

  it.each([
    [0, 0.25, 0.1],
    [70, 0, 0.1],
    [70, 0.25, 0],
    [70, 0.25, -0.05],
    [NaN, 0.25, 0.1],
  ])('gives nothing for mass %d, contact %d, flight %d', (massKg, contactS, flightS) => {
    expect(sineWaveStep(massKg, contactS, flightS)).toBeNull();
  });
});

describe('forces of a stance', () => {
  const steady = {
    ...makeStance(1, 'left'),
    contactTimeS: 0.25,
    flightTimeS: 0.1,
    verticalOscillationM: 0.08,
    peakForceN: null,
    verticalStiffnessNPerM: null,
  };

  it('come with the mass', () => {
    // By standard gravity instead of 9.81.
    expect(withForces(steady, 70).peakForceN).toBeCloseTo((1510.13 * 9.80665) / 9.81, 1);
  });

  it.each([
    ['without a mass', steady, null],
    ['in walking, which has no flight', { ...steady, flightTimeS: null }, 70],
    ['in a step that is not steady', { ...steady, verticalOscillationM: null }, 70],
  ])('are not made up %s', (_, stance, massKg) => {
    expect(withForces(stance, massKg)).toMatchObject({ peakForceN: null, verticalStiffnessNPerM: null });
  });
});
