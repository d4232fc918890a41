/**
 * Quantiles and tails against scipy 1.17.1, a general-purpose library. The numbers were made with `stats.t.ppf(p, df)`,
 * `stats.f.ppf(p, a, b)`, `stats.chi2.ppf(p, df)`, `stats.norm.ppf(p)`, `stats.t.sf(t, df)`, `stats.norm.sf(z)` and
 * `special.gammaln(x)`, printed by repr().
 */
import { erf } from 'mathjs';
import { describe, expect, it } from 'vitest';
import {
  chiSquareQuantile,
  fCdf,
  fQuantile,
  normalCdf,
  normalQuantile,
  normalUpperTail,
  densityOf,
  studentT,
  studentTQuantile,
  studentTUpperTail,
} from '../../server/src/asymmetry/quantiles.ts';
import { logGamma } from '../../server/src/asymmetry/special-functions.ts';

const STUDENT_T: number[][] = [
  [0.6, 1, 0.32491969623290634],
  [0.6, 2, 0.2886751345948128],
  [0.6, 2.5, 0.2814595127485477],
  [0.6, 5, 0.2671808657041451],
  [0.6, 9, 0.260955336473911],
  [0.6, 16, 0.25759919485514193],
  [0.6, 30.7, 0.2555536242731397],
  [0.6, 200, 0.25368437919014747],
  [0.6, 100000, 0.25334777715718015],
  [0.95, 1, 6.313751514675037],
  [0.95, 2, 2.9199855803537242],
  [0.95, 2.5, 2.5582186141359355],
  [0.95, 5, 2.0150483733330233],
  [0.95, 9, 1.833112932656237],
  [0.95, 16, 1.7458836762762495],
  [0.95, 30.7, 1.6960291330242738],
  [0.95, 200, 1.6525081009108769],
  [0.95, 100000, 1.6448688647849696],
  [0.975, 1, 12.706204736174694],
  [0.975, 2, 4.302652729749462],
  [0.975, 2.5, 3.5746548420036817],
  [0.975, 5, 2.5705818356363146],
  [0.975, 9, 2.262157162798205],
  [0.975, 16, 2.1199052992212546],
  [0.975, 30.7, 2.040321537812142],
  [0.975, 200, 1.9718962236339088],
  [0.975, 100000, 1.9599877075346095],
  [0.9995, 1, 636.6192487687897],
  [0.9995, 2, 31.599054576445365],
  [0.9995, 2.5, 18.277893528131457],
  [0.9995, 5, 6.868826625881276],
  [0.9995, 9, 4.780912585931217],
  [0.9995, 16, 4.014996327184108],
  [0.9995, 30.7, 3.63711387351782],
  [0.9995, 200, 3.3398354062757107],
  [0.9995, 100000, 3.2906240314119137],
];

const STUDENT_T_TAIL: number[][] = [
  [0.1, 3, 0.46332617440040297],
  [2.7, 6.5, 0.016446624589517657],
  [8, 12, 1.879949112375129e-6],
  [15, 40, 2.553640794984443e-18],
  [-1.3, 4, 0.868274201764388],
];

const FISHER_F: number[][] = [
  [0.025, 1, 1, 0.001543712508674131],
  [0.025, 5, 15, 0.15557596307848703],
  [0.025, 5, 18, 0.15718616136624453],
  [0.025, 15, 5, 0.27960958175665507],
  [0.025, 7, 7, 0.20020383877718265],
  [0.025, 18, 5, 0.29568584250351937],
  [0.025, 2.3, 40, 0.038064012134756776],
  [0.025, 100, 3, 0.30772839736703944],
  [0.95, 1, 1, 161.4476387975882],
  [0.95, 5, 15, 2.9012945362361573],
  [0.95, 5, 18, 2.7728531529978304],
  [0.95, 15, 5, 4.618759116405833],
  [0.95, 7, 7, 3.7870435399280686],
  [0.95, 18, 5, 4.578534157471939],
  [0.95, 2.3, 40, 3.087347420819589],
  [0.95, 100, 3, 8.553901713838655],
  [0.975, 1, 1, 647.7890114778442],
  [0.975, 5, 15, 3.5764153492790607],
  [0.975, 5, 18, 3.381967805875243],
  [0.975, 15, 5, 6.427728167078779],
  [0.975, 7, 7, 4.994909219063237],
  [0.975, 18, 5, 6.361883204654352],
  [0.975, 2.3, 40, 3.832221909983307],
  [0.975, 100, 3, 13.956279860799262],
];

const CHI_SQUARE: number[][] = [
  [0.025, 1, 0.0009820691171752555],
  [0.025, 2, 0.05063561596857975],
  [0.025, 5, 0.8312116134866625],
  [0.025, 7, 1.689869180677355],
  [0.025, 29, 16.04707169536489],
  [0.025, 100, 74.22192747492373],
  [0.5, 1, 0.454936423119572],
  [0.5, 2, 1.386294361119891],
  [0.5, 5, 4.351460191095526],
  [0.5, 7, 6.345811195521515],
  [0.5, 29, 28.33612686658445],
  [0.5, 100, 99.33412923598846],
  [0.975, 1, 5.023886187314888],
  [0.975, 2, 7.377758908227871],
  [0.975, 5, 12.832501994030027],
  [0.975, 7, 16.012764274629326],
  [0.975, 29, 45.72228580417452],
  [0.975, 100, 129.5611971858366],
];

const NORMAL: number[][] = [
  [0.8, 0.8416212335729143],
  [0.9, 1.2815515655446004],
  [0.95, 1.6448536269514722],
  [0.975, 1.959963984540054],
  [0.999, 3.090232306167813],
  [0.0001, -3.7190164854556804],
];

const NORMAL_TAIL: number[][] = [
  [0, 0.5],
  [0.5, 0.3085375387259869],
  [1.96, 0.024997895148220435],
  [5, 2.866515718791933e-7],
  [9, 1.1285884059538324e-19],
  [-2, 0.9772498680518208],
];

const LOG_GAMMA: number[][] = [
  [0.5, 0.5723649429247],
  [3.7, 1.428072326665388],
  [10, 12.801827480081469],
  [150.5, 602.5139548705853],
  [1000000, 12815504.569147611],
];

/** Relative. */
const ERROR_MAX = 1e-9;

function expectNear(value: number, reference: number, name: string): void {
  expect(Math.abs(value - reference), name).toBeLessThanOrEqual(ERROR_MAX * Math.max(Math.abs(reference), 1e-20));
}

describe('distribution functions and their inverses', () => {
  it.each([
    { name: 'Student’s t', rows: STUDENT_T, f: studentTQuantile },
    { name: 'the upper tail of Student’s t', rows: STUDENT_T_TAIL, f: studentTUpperTail },
    { name: 'F', rows: FISHER_F, f: fQuantile },
    { name: 'chi-square', rows: CHI_SQUARE, f: chiSquareQuantile },
    { name: 'the normal distribution', rows: NORMAL, f: normalQuantile },
    { name: 'the upper tail of the normal distribution', rows: NORMAL_TAIL, f: normalUpperTail },
    { name: 'the logarithm of the gamma function', rows: LOG_GAMMA, f: logGamma },
  ])('agree with scipy: $name', ({ name, rows, f }) => {
    for (const row of rows) {
      const args = row.slice(0, -1);
      expectNear((f as (...of: number[]) => number)(...args), row[row.length - 1]!, `${name} of ${args.join(', ')}`);
    }
  });

  it('agree with the error function of mathjs: normal', () => {
    for (const z of [-3, -1, -0.2, 0.7, 2.2]) expect(normalCdf(z)).toBeCloseTo((1 + erf(z / Math.SQRT2)) / 2, 12);
  });

  it('undo each other, and the density is the slope', () => {
    for (const p of [0.01, 0.3, 0.77]) expect(fCdf(fQuantile(p, 3, 11), 3, 11)).toBeCloseTo(p, 12);
    const step = 1e-5;
    const slope = (studentTUpperTail(1.2 - step, 4.5) - studentTUpperTail(1.2 + step, 4.5)) / (2 * step);
    expect(densityOf(studentT(4.5), 1.2)).toBeCloseTo(slope, 8);
  });
});
