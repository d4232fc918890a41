/**
 * `npm run bench:accuracy`: how far the analysis is from the truth, per set of the shared recordings and per synthetic task,
 * beside bare `ahrs` and the published figure. Nothing here decides pass or fail; it is a measurement.
 */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { analyseRecording } from '../../server/src/analysis.ts';
import { readRecording } from '../../server/src/exchange/motion-bids-reader.ts';
import { sharedRecordings } from './shared-recordings.ts';
import { emptyCount, figuresOf, goalOf, matchContacts, type MatchCount, type TrueContact } from './match.ts';
import { broadRows, runUpRows } from './inclination.ts';
import { syntheticRows } from './synthetic.ts';

interface Truth {
  contacts: TrueContact[];
  valid_spans: number[][];
  angles?: { t: number[]; pelvicObliquityDeg: number[]; trunkLateralTiltDeg: number[] };
  angles_valid_spans?: number[][];
}

const WALK_WINDOW_S = 0.1;
const RUN_WINDOW_S = 0.06;

interface ContactSet {
  name: string;
  prefix: RegExp;
  windowS: number;
  published: string;
}

const SETS: ContactSet[] = [
  {
    name: 'ipol (real L5, walking, turns)',
    prefix: /^ipol_/,
    windowS: WALK_WINDOW_S,
    published: 'IC RMSE 22, TO 25 ms (Caramia 2019); side 96.3 % (Ullrich 2021)',
  },
  {
    name: 'qmt (real, walking)',
    prefix: /^qmt_/,
    windowS: WALK_WINDOW_S,
    published: 'as above; truth itself -10..+50 ms',
  },
  {
    name: 'zoo (markers, walks and turns)',
    prefix: /^zoo_.*(straight|turn)/,
    windowS: WALK_WINDOW_S,
    published: 'as above',
  },
  {
    name: 'grf (real sacrum, running, no gyroscope)',
    prefix: /^grf_/,
    windowS: RUN_WINDOW_S,
    published: 'contact time RMSE 20 ms (Patoz 2022)',
  },
];

async function contactRows(root: string): Promise<void> {
  console.log('\nContacts: found minus true, ms\n');
  console.log(
    'set                                        event  true  missed%  extra%    bias      SD    RMSE  wrong side%   goal (running: bias 5, SD 10; walking: IC 20, TO 25 RMSE; side 0.5 %)   published',
  );
  for (const set of SETS) {
    const counts: Record<TrueContact['type'], MatchCount> = { initial_contact: emptyCount(), toe_off: emptyCount() };
    let stances = 0;
    let lost = 0;
    for (const name of readdirSync(root).filter(
      (n) => set.prefix.test(n) && existsSync(join(root, `${n}.truth.json`)),
    )) {
      const truth = JSON.parse(readFileSync(join(root, `${name}.truth.json`), 'utf8')) as Truth;
      const result = analyseRecording(await readRecording(join(root, name)));
      stances += result.stances.length;
      lost += result.quality.stancesLost;
      for (const type of ['initial_contact', 'toe_off'] as const) {
        matchContacts(counts[type], type, truth.contacts, result.contacts, truth.valid_spans, set.windowS);
      }
    }
    for (const type of ['initial_contact', 'toe_off'] as const) printRow(set, type, counts[type]);
    console.log(
      `${''.padEnd(43)}stances kept ${stances}, left out ${lost} (${((100 * lost) / (stances + lost)).toFixed(1)} %)`,
    );
  }
}

function printRow(set: ContactSet, type: TrueContact['type'], count: MatchCount): void {
  const f = figuresOf(count);
  const n = (value: number, digits = 1): string => value.toFixed(digits).padStart(8);
  console.log(
    `${set.name.padEnd(43)}${type === 'initial_contact' ? 'IC' : 'TO'}   ${String(count.truth).padStart(5)}${n(f.missedPercent)}${n(f.extraPercent)}${n(f.biasMs)}${n(f.sdMs)}${n(f.rmseMs)}${f.wrongSidePercent === null ? '       -' : n(f.wrongSidePercent, 2)}   ${goalOf(set.windowS === RUN_WINDOW_S ? 'run' : 'walk', type, f).padEnd(18)}${set.published}`,
  );
}

async function angleRows(root: string): Promise<void> {
  console.log("\nAngles against markers (zoo): deg RMSE, and with each recording's own mean taken out\n");
  for (const kind of ['straight', 'turn'] as const) {
    for (const [key, label] of [
      ['pelvicObliquityDeg', 'pelvic obliquity'],
      ['trunkLateralTiltDeg', 'trunk lateral tilt'],
    ] as const) {
      const rms: number[] = [];
      const centred: number[] = [];
      for (const name of readdirSync(root).filter((n) => n.startsWith('zoo_') && n.endsWith(kind))) {
        const truth = JSON.parse(readFileSync(join(root, `${name}.truth.json`), 'utf8')) as Truth;
        const result = analyseRecording(await readRecording(join(root, name)));
        const wanted = truth.angles?.[key] ?? [];
        const errors = result.angles[key].flatMap((value, i) =>
          value === null || wanted[i] == null ? [] : [value - wanted[i]],
        );
        if (errors.length === 0) continue;
        const mean = errors.reduce((s, e) => s + e, 0) / errors.length;
        rms.push(Math.sqrt(errors.reduce((s, e) => s + e * e, 0) / errors.length));
        centred.push(Math.sqrt(errors.reduce((s, e) => s + (e - mean) ** 2, 0) / errors.length));
      }
      const median = (v: number[]): string => (v.sort((a, b) => a - b)[v.length >> 1] ?? NaN).toFixed(2);
      console.log(
        `zoo ${kind.padEnd(10)}${label.padEnd(22)}n ${rms.length}  median RMSE ${median(rms)}  centred ${median(centred)}`,
      );
    }
  }
}

const root = sharedRecordings();
if (root === null) console.log('The shared recordings are not here: only the synthetic rows are measured.');
else {
  await broadRows(root);
  await contactRows(root);
  await angleRows(root);
}
runUpRows();
syntheticRows();
