/** `analyse` on recordings of the synthetic athlete: the results file, clocks, units, one sensor alone. */
import { STANDARD_GRAVITY_MPS2, DEG_PER_RAD, type AnalysisResult } from '@ambipede/shared';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { clockErrorSMax } from '../../motion/goals.ts';
import { shortRun, Workshop, type Run } from './command.ts';
import { expectResultsFile } from './result-keys.ts';

const workshop = new Workshop();
afterAll(() => workshop.remove());

const STRIDES_PER_S = 170 / 120;
let plain: { run: Run; result: AnalysisResult };

beforeAll(async () => {
  plain = await workshop.result(workshop.write('plain', shortRun(), { task: 'run' }));
});

const sidesOf = (result: AnalysisResult): string => result.stances.map((s) => s.side[0]).join('');

/** Largest difference of an angle, deg, at the same frames. */
function largest(a: readonly (number | null)[], b: readonly (number | null)[]): number {
  return Math.max(...a.map((value, i) => Math.abs((value ?? 0) - (b[i] ?? 0))));
}

describe('a recording with one tracking system', () => {
  it('gives the results file of the design, and the stances of both feet in turn', () => {
    expectResultsFile(plain.result);
    expect(plain.result.task).toBe('run');
    expect(plain.result.clock).toEqual({ sternumOffsetS: 0, sternumSkewPpm: 0 });
    expect(plain.result.stances.length).toBeGreaterThan(20);
    expect(sidesOf(plain.result)).not.toMatch(/ll|rr|u/);
  });

  it('tells the athlete’s known one-sidedness by its sign: the swing side drops further on the left foot', () => {
    const drop = plain.result.asymmetry.swingSideDropDeg!;
    expect(drop.left.mean!).toBeGreaterThan(drop.right.mean!);
    expect(drop.difference!).toBeGreaterThan(0);
    expect(drop.difference!).toBeCloseTo(drop.left.mean! - drop.right.mean!, 9);
  });

  it('prints a table with both sides, the difference and the caution', () => {
    expect(plain.run.stdout).toMatch(/Swing side drop, deg +\d+\.\d \(n \d+\) +\d+\.\d \(n \d+\)/);
    expect(plain.run.stdout).toMatch(/not a diagnosis/);
    expect(plain.run.stderr).toBe('');
  });

  it('gives the same bytes when it is analysed again', async () => {
    const again = await workshop.result(workshop.at('plain'));
    expect(JSON.stringify(again.result)).toBe(JSON.stringify(plain.result));
  });
});

describe('a recording with one tracking system per sensor, each with its own clock', () => {
  const clock = { offsetS: 0.37, skewPpm: 80, phaseS: 0.003 };

  /** Time of the pelvis's clock for a moment, by the result's relation, minus the true one. */
  function clockError(result: AnalysisResult, offsetS: number, skewPpm: number, atS: number): number {
    const sternumS = offsetS + (1 + skewPpm * 1e-6) * atS;
    // docs/conventions.md: time on the sternum's clock = offset + (1 + skew) * time on the pelvis's.
    return (sternumS - result.clock.sternumOffsetS) / (1 + result.clock.sternumSkewPpm * 1e-6) - atS;
  }

  it.each([
    { name: 'exact start times', startErrorS: 0 },
    { name: 'start times wrong by a fifth of a second', startErrorS: 0.2 },
  ])('is brought to one clock, with $name', async ({ name, startErrorS }) => {
    const session = shortRun({ clock });
    const folder = workshop.write(name.replaceAll(' ', '-'), session, { task: 'run', startErrorS });
    const { result } = await workshop.result(folder);
    expectResultsFile(result);
    const { sternumOffsetS, sternumSkewPpm } = session.truth.clock;
    for (const atS of [17, 23, 29]) {
      expect(Math.abs(clockError(result, sternumOffsetS, sternumSkewPpm, atS))).toBeLessThan(
        clockErrorSMax(STRIDES_PER_S),
      );
    }
    expect(sidesOf(result)).toBe(sidesOf(plain.result));
    const lean = (r: AnalysisResult): number => r.asymmetry.leanToStancePeakDeg!.difference!;
    expect(Math.abs(lean(result) - lean(plain.result))).toBeLessThan(0.5);
  });
});

describe('units', () => {
  it('g and deg/s give the same result as m/s^2 and rad/s', async () => {
    const inG = workshop.spoil(workshop.at('plain'), 'units-half', '_channels.tsv', (text) =>
      text.replaceAll('m/s^2', 'g').replaceAll('rad/s', 'deg/s'),
    );
    const folder = workshop.spoil(inG, 'units', '_motion.tsv', (text) =>
      text
        .trimEnd()
        .split('\n')
        .map((row) => {
          const [t, ...cells] = row.split('\t');
          // Per sensor three accelerations, then three rates.
          const values = cells.map((cell, i) => Number(cell) * (i % 6 < 3 ? 1 / STANDARD_GRAVITY_MPS2 : DEG_PER_RAD));
          return [t, ...values.map((v) => v.toPrecision(15))].join('\t');
        })
        .join('\n'),
    );
    const { result } = await workshop.result(folder);
    expect(result.contacts).toEqual(plain.result.contacts);
    expect(sidesOf(result)).toBe(sidesOf(plain.result));
    for (const key of ['pelvicObliquityDeg', 'trunkLateralTiltDeg', 'trunkForwardTiltDeg'] as const) {
      // The file's own rounding to four decimals.
      expect(largest(result.angles[key], plain.result.angles[key])).toBeLessThanOrEqual(0.00011);
    }
  });
});

describe('lost packets', () => {
  it('are counted, and the steps that they touch are not made up', async () => {
    const folder = workshop.spoil(workshop.at('plain'), 'lost', '_motion.tsv', (text) => {
      const rows = text.trimEnd().split('\n');
      // 40 ms and, later, half a second of the run.
      return rows.filter((_, i) => !(i >= 2000 && i < 2004) && !(i >= 2400 && i < 2450)).join('\n');
    });
    const { result } = await workshop.result(folder);
    expectResultsFile(result);
    expect(result.quality.gaps).toBe(4);
    expect(result.quality.samplesFilled).toBe(8);
    for (const stance of result.stances) expect(stance.toeOff < 24 || stance.initialContact >= 24.5 - 1e-6).toBe(true);
    expect(result.stances.length).toBeLessThan(plain.result.stances.length);
  });
});

describe('the pelvis sensor alone', () => {
  it('gives what it can and says what it cannot tell', async () => {
    const { result, run } = await workshop.result(workshop.write('pelvis-only', shortRun(null), { task: 'run' }));
    expectResultsFile(result);
    expect(result.quality.remarks.join(' ')).toMatch(/No sternum sensor: .*trunk/);
    expect(run.stdout).toMatch(/No sternum sensor/);
    for (const key of ['trunkLateralTiltDeg', 'trunkForwardTiltDeg', 'separationDeg'] as const) {
      expect(new Set(result.angles[key])).toEqual(new Set([null]));
    }
    for (const key of ['leanToStanceMeanDeg', 'leanToStancePeakDeg', 'separationRangeDeg'] as const) {
      expect(result.asymmetry[key]!.verdict).toBe('not measured');
      expect(result.stances.every((stance) => stance[key] === null)).toBe(true);
    }
    expect(result.asymmetry.swingSideDropDeg!.left.n).toBeGreaterThanOrEqual(7);
    expect(Object.keys(result.quality.mounting)).toEqual(['pelvis']);
  });

  it('without a gyroscope gives contacts, no angle and no side, and says so', async () => {
    const pelvisOnly = workshop.at('pelvis-only');
    const bare = workshop.spoil(pelvisOnly, 'bare-half', '_channels.tsv', (text) =>
      text.replaceAll(/.*\tGYRO\t.*\n/g, ''),
    );
    const folder = workshop.spoil(bare, 'bare', '_motion.tsv', (text) =>
      text
        .trimEnd()
        .split('\n')
        .map((row) => row.split('\t').slice(0, 4).join('\t'))
        .join('\n'),
    );
    const { result } = await workshop.result(folder);
    expectResultsFile(result);
    expect(result.quality.remarks.join(' ')).toMatch(/no gyroscope/);
    expect(new Set(result.angles.pelvicObliquityDeg)).toEqual(new Set([null]));
    expect(result.contacts.length).toBeGreaterThan(20);
    expect(result.contacts.every((contact) => contact.side === 'unknown')).toBe(true);
  });
});
