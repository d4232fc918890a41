/** Folders that `analyse` must refuse: a sentence that says what to do, exit code 2, no result, no stack trace. */
import { existsSync, mkdirSync, writeFileSync } from 'node:fs';
import { afterAll, describe, expect, it } from 'vitest';
import { analyse, shortRun, Workshop, type Run } from './command.ts';

const workshop = new Workshop();
afterAll(() => workshop.remove());

const good = workshop.write('good', shortRun(), { task: 'run' });
const firstRow = (text: string): string => text.slice(0, text.indexOf('\n'));
const headed = (text: string, name: (i: number) => string): string =>
  `${firstRow(text)
    .split('\t')
    .map((_, i) => name(i))
    .join('\t')}\n${text}`;

function expectRefusal(run: Run, message: RegExp): void {
  expect(run.stderr).toMatch(message);
  expect(run.stderr).not.toMatch(/^\s+at /m);
  expect(run.exitCode).toBe(2);
  expect(run.stdout).toBe('');
}

const SPOILT: { name: string; file: string; change: (text: string) => string | null; message: RegExp }[] = [
  { name: 'no channels.tsv', file: '_channels.tsv', change: () => null, message: /_channels\.tsv is missing/ },
  { name: 'no motion.json', file: '_motion.json', change: () => null, message: /_motion\.json is missing/ },
  { name: 'a motion.json that is not JSON', file: '_motion.json', change: () => '{not json', message: /_motion\.json/ },
  {
    name: 'no sampling frequency',
    file: '_motion.json',
    change: (text) => text.replace('SamplingFrequency', 'Rate'),
    message: /needs SamplingFrequency/,
  },
  {
    name: 'a sampling frequency of 20 Hz',
    file: '_motion.json',
    change: (text) => text.replace('"SamplingFrequency": 100', '"SamplingFrequency": 20'),
    message: /not 20/,
  },
  {
    name: 'an unknown unit',
    file: '_channels.tsv',
    change: (text) => text.replace('m/s^2', 'furlong'),
    message: /unit "furlong" is not known for ACCEL \(known: m\/s\^2/,
  },
  {
    name: 'no pelvis sensor',
    file: '_channels.tsv',
    change: (text) => text.replaceAll('Pelvis', 'Knee'),
    message: /No pelvis sensor .*Set tracked_point/,
  },
  {
    name: 'a row with a column too few',
    file: '_motion.tsv',
    change: (text) => text.replace(/\t[^\t\n]*\n/, '\n'),
    message: /line 1 has 12 columns, channels\.tsv lists 13/,
  },
  {
    name: 'a header row',
    file: '_motion.tsv',
    change: (text) => headed(text, (i) => `channel${i}`),
    message: /line 1 .*header/,
  },
  {
    name: 'a word among the numbers',
    file: '_motion.tsv',
    change: (text) => text.replace(/(\n[^\t\n]*\t)[^\t]*/, '$1broken'),
    message: /line 2/,
  },
  { name: 'no samples', file: '_motion.tsv', change: () => '', message: /has no samples/ },
  {
    name: 'nothing but missing values',
    file: '_motion.tsv',
    change: (text) => text.replaceAll(/\t[^\t\n]*/g, '\tn/a'),
    message: /has no samples/,
  },
];

describe('a recording with', () => {
  it.each(SPOILT)('$name is refused', async ({ name, file, change, message }) => {
    const folder = workshop.spoil(good, name.replaceAll(/[^a-z0-9]/g, '-'), file, change);
    const out = `${folder}.result.json`;
    expectRefusal(await analyse(folder, '--out', out), message);
    expect(existsSync(out)).toBe(false);
  });
});

describe('what is not a recording', () => {
  it('is refused: a folder that is not there, a file, an empty folder', async () => {
    expectRefusal(await analyse(workshop.at('nowhere')), /Cannot read the folder .*nowhere/);
    writeFileSync(workshop.at('a-file'), '');
    expectRefusal(await analyse(workshop.at('a-file')), /Cannot read the folder .*a-file/);
    mkdirSync(workshop.at('empty'));
    expectRefusal(await analyse(workshop.at('empty')), /No \*_tracksys-<label>_motion\.tsv .*Motion-BIDS/);
  });

  it('is answered with the usage: no folder, two folders, an unknown option', async () => {
    expectRefusal(await analyse(), /Usage: .*RECORDING/);
    expectRefusal(await analyse(good, good), /Usage: .*RECORDING/);
    expectRefusal(await analyse(good, '--frobnicate'), /frobnicate[\s\S]*Usage: /);
  });
});

describe('a results file that cannot be written', () => {
  it('is an error that names it', async () => {
    const run = await analyse(good, '--out', workshop.at('no-such-folder', 'result.json'));
    expect(run.exitCode).not.toBe(0);
    expect(run.stderr).toMatch(/no-such-folder/);
    expect(run.stderr).not.toMatch(/^\s+at /m);
  });
});
