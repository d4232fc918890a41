/**
 * Coverage of the intervals and size of the tests, by simulation with known truth: the long version of
 * tests/asymmetry/coverage.test.ts. Run: `npx tsx tests/bench/coverage.ts [repeats]`. Prints tables; passes or fails nothing.
 */
import { baselineOf, detectableChange } from '../../server/src/asymmetry/baseline.ts';
import { differenceWithInterval, type Difference } from '../../server/src/asymmetry/difference.ts';
import { equivalenceOfSessions, equivalenceOfStances } from '../../server/src/asymmetry/equivalence.ts';
import { meanOf, sdOf } from '../../server/src/asymmetry/moments.ts';
import { studentTQuantile } from '../../server/src/asymmetry/quantiles.ts';
import { CHANGE_PER_SEM } from '../../server/src/asymmetry/reliability.ts';
import { seededRandom } from '../support/seeded-random.ts';
import { testAgainstScatter } from '../../server/src/asymmetry/step-scatter.ts';
import { trendOf } from '../../server/src/asymmetry/trend.ts';
import { drawOf, serialValues, shareOf, type Shape } from '../asymmetry/simulate.ts';

const REPEATS = Number(process.argv[2] ?? 4000);
const SEED = 9001;
const SIDES = [
  [7, 7],
  [10, 10],
  [20, 20],
  [40, 40],
  [10, 40],
] as const;
const CORRELATIONS = [0, 0.3, 0.6];

type Method = (left: readonly number[], right: readonly number[]) => Difference;

const percent = (share: number): string => (100 * share).toFixed(1).padStart(6);

/** Moving blocks, each side by itself, t with the smaller side's n - 1: what stood here before, and with longer blocks. */
function blockBootstrap(blockOf: (n: number) => number): Method {
  const replicates = 300;
  const variance = (values: readonly number[], random: () => number): number => {
    const n = values.length;
    const block = Math.max(1, Math.round(blockOf(n)));
    const means: number[] = [];
    for (let r = 0; r < replicates; r += 1) {
      let total = 0;
      for (let count = 0; count < n;) {
        const start = Math.floor(random() * n);
        for (let i = 0; i < block && count < n; i += 1, count += 1) total += values[(start + i) % n]!;
      }
      means.push(total / n);
    }
    return (sdOf(means) ** 2 * n) / (n - 1);
  };
  return (left, right) => {
    const random = seededRandom(20117);
    const half =
      studentTQuantile(0.975, Math.min(left.length, right.length) - 1) *
      Math.sqrt(variance(left, random) + variance(right, random));
    const difference = meanOf(left) - meanOf(right);
    return { difference, ci95: [difference - half, difference + half] };
  };
}

const METHODS: [string, Method, number][] = [
  ['blocks n^(1/3)', blockBootstrap(Math.cbrt), REPEATS / 4],
  ['blocks n^(1/2)', blockBootstrap(Math.sqrt), REPEATS / 4],
  ['blocks n/3', blockBootstrap((n) => n / 3), REPEATS / 4],
  ['used', (l, r) => differenceWithInterval(l, r)!, REPEATS],
];

function differences(shape: Shape): void {
  console.log(`\n95 % interval of left - right, ${shape} values: coverage in %`);
  console.log(
    `correlation  n left/right  ${METHODS.map(([name]) => name.padStart(14)).join('')}  median half width, SD`,
  );
  for (const phi of CORRELATIONS) {
    for (const [n, m] of SIDES) {
      const halves: number[] = [];
      const cells = METHODS.map(([name, method, repeats]) => {
        const draw = drawOf(SEED, shape);
        const covered = (): boolean => {
          const { ci95 } = method(serialValues(draw, n, phi), serialValues(draw, m, phi));
          if (name === 'used') halves.push((ci95[1] - ci95[0]) / 2);
          return ci95[0] <= 0 && ci95[1] >= 0;
        };
        return percent(shareOf(repeats, covered)).padStart(14);
      });
      const median = halves.sort((a, b) => a - b)[halves.length >> 1]!;
      console.log(`${String(phi).padEnd(13)}${`${n}/${m}`.padEnd(14)}${cells.join('')}  ${median.toFixed(2)}`);
    }
  }
}

function misfits(): void {
  console.log('\nThe same where the model is wrong, 20 stances a side: coverage in %');
  const draw = drawOf(SEED);
  const twenty = (f: (i: number, noise: number) => number): number[] =>
    serialValues(draw, 20, 0).map((noise, i) => f(i, noise));
  const cases: [string, () => [number[], number[]]][] = [
    ['alternating, correlation -0.4', () => [serialValues(draw, 20, -0.4), serialValues(draw, 20, -0.4)]],
    ['one side 0, the other 0.6', () => [serialValues(draw, 20, 0), serialValues(draw, 20, 0.6)]],
    ['both sides drift together by 2 SD', () => [twenty((i, e) => e + i / 10), twenty((i, e) => e + i / 10)]],
    [
      'strides shared by both sides (0.5)',
      () => {
        const shared = serialValues(draw, 20, 0.3);
        const mix = (): number[] => twenty((i, e) => Math.SQRT1_2 * (e + shared[i]!));
        return [mix(), mix()];
      },
    ],
    [
      'scatter of one side three times the other’s',
      () => [serialValues(draw, 20, 0.3), serialValues(draw, 20, 0.3).map((v) => 3 * v)],
    ],
  ];
  for (const [name, make] of cases) {
    const share = shareOf(REPEATS, () => {
      const { ci95 } = differenceWithInterval(...make())!;
      return ci95[0] <= 0 && ci95[1] >= 0;
    });
    console.log(`${name.padEnd(46)}${percent(share)}`);
  }
}

function tests(): void {
  console.log('\nAnswers in % of simulated athletes, SD 1 within a side, limit 1');
  console.log(
    'correlation  n    symmetric called more than scatter   at the limit: within  outside   at 0: within   at 2: outside',
  );
  for (const phi of CORRELATIONS) {
    for (const n of [10, 20, 40]) {
      const draw = drawOf(SEED + n);
      const pair = (shift: number): [number[], number[]] => [
        serialValues(draw, n, phi).map((v) => v + shift),
        serialValues(draw, n, phi),
      ];
      const answers = (shift: number, answer: string): string =>
        percent(shareOf(REPEATS, () => equivalenceOfStances(...pair(shift), 1).answer === answer));
      const alarm = percent(shareOf(REPEATS, () => testAgainstScatter(...pair(0))!.isMoreThanScatter));
      console.log(
        `${String(phi).padEnd(13)}${String(n).padEnd(5)}${alarm.padStart(34)}${answers(1, 'within').padStart(23)}` +
          `${answers(1, 'outside').padStart(9)}${answers(0, 'within').padStart(15)}${answers(2, 'outside').padStart(16)}`,
      );
    }
  }
  console.log(
    '\nThe same over sessions, SD 0.5 between them, limit 1\nsessions   at the limit: within   at 0: within   at 2: outside',
  );
  for (const n of [3, 5, 10]) {
    const draw = drawOf(SEED + n);
    const answers = (shift: number, answer: string): string =>
      percent(
        shareOf(
          REPEATS,
          () =>
            equivalenceOfSessions(
              serialValues(draw, n, 0).map((v) => shift + v / 2),
              1,
            ).answer === answer,
        ),
      );
    console.log(
      `${String(n).padEnd(11)}${answers(1, 'within').padStart(21)}${answers(0, 'within').padStart(15)}${answers(2, 'outside').padStart(16)}`,
    );
  }
}

function overSessions(): void {
  console.log('\nOver sessions without a change: coverage in %');
  console.log('sessions  shape         correlation  baseline band  detectable change  1.96 sqrt(2) SD  trend 95 %');
  for (const shape of ['normal', 'skewed'] as const) {
    for (const phi of [0, 0.3]) {
      for (const n of [3, 5, 6, 8, 12, 20]) {
        const draw = drawOf(SEED + n, shape);
        let band = 0;
        let change = 0;
        let plain = 0;
        let trend = 0;
        for (let i = 0; i < REPEATS; i += 1) {
          const all = serialValues(draw, n + 2, phi);
          const own = all.slice(0, n);
          const [next, another] = [all[n]!, all[n + 1]!];
          const { band: b } = baselineOf(own)!;
          if (next >= b[0] && next <= b[1]) band += 1;
          if (Math.abs(next - another) <= detectableChange('contactTimeS', own).change!) change += 1;
          if (Math.abs(next - another) <= CHANGE_PER_SEM * sdOf(own)) plain += 1;
          const t = trendOf(own.map((value, day) => ({ day: day * day, value })));
          if (t.state !== 'too few sessions' && t.ci95[0] <= 0 && t.ci95[1] >= 0) trend += 1;
        }
        const cells = [band, change, plain].map((count) => percent(count / REPEATS).padStart(16));
        console.log(
          `${String(n).padEnd(10)}${shape.padEnd(14)}${String(phi).padEnd(10)}${cells.join('')}` +
            `${n < 5 ? '           -' : percent(trend / REPEATS).padStart(12)}`,
        );
      }
    }
  }
}

for (const shape of ['normal', 'skewed', 'very skewed'] as const) differences(shape);
misfits();
tests();
overSessions();
