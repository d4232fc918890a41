/** Tables of values from anywhere: guessed, read, and refused with a sentence that says what to do. */
import { describe, expect, it } from 'vitest';
import { RAD_PER_DEG, STANDARD_GRAVITY_MPS2, type CsvMapping } from '../../shared/src/index.ts';
import { cellsOf, linesOf, numberIn } from '../../server/src/exchange/csv-lines.ts';
import { previewOf } from '../../server/src/exchange/csv-preview.ts';
import { readCsvSamples } from '../../server/src/exchange/csv-recording.ts';

const ROWS = 400;
const MAPPING: CsvMapping = {
  delimiter: ',',
  decimal: '.',
  firstLine: 2,
  time: { column: 0, unit: 's' },
  accel: { columns: [1, 2, 3], unit: 'm/s2' },
  gyro: { columns: [4, 5, 6], unit: 'rad/s' },
};
const HEAD = 'time (s),acc_x (m/s2),acc_y (m/s2),acc_z (m/s2),gyr_x (rad/s),gyr_y (rad/s),gyr_z (rad/s)';

/** 200 rows a second of somebody who stands and sways. */
function table(
  head = HEAD,
  row = (k: number) => [k * 0.005, 0.1, 9.8, 0.2, 0.01, Math.sin(k / 40), 0.02],
  between = ',',
): string {
  const lines = Array.from({ length: ROWS }, (_, k) =>
    row(k).map((value) => (Number.isNaN(value) ? '' : value.toFixed(6))),
  );
  return `${[head, ...lines.map((cells) => cells.join(between))].join('\n')}\n`;
}
const read = (text: string, change: Partial<CsvMapping> = {}) =>
  readCsvSamples(text, { ...MAPPING, ...change }, 'a.csv');
const preview = (text: string, mapping?: CsvMapping) => previewOf({ name: 'a.csv', text, ...(mapping && { mapping }) });

describe('a line of a table', () => {
  // Examples of RFC 4180, section 2, rules 5 to 7.
  it.each([
    ['"aaa","bbb","ccc"', ['aaa', 'bbb', 'ccc']],
    ['zzz,yyy,xxx', ['zzz', 'yyy', 'xxx']],
    ['"aaa","b""bb","ccc"', ['aaa', 'b"bb', 'ccc']],
    ['"a,b",c,', ['a,b', 'c', '']],
  ])('%s is parted as the standard says', (line, cells) => {
    expect(cellsOf(line, ',')).toEqual(cells);
  });

  it.each([
    ['1,25', ',', 1.25],
    ['-1.5e-3', '.', -0.0015],
    [' +7 ', '.', 7],
    ['.5', '.', 0.5],
    ['n/a', '.', NaN],
    ['', ',', NaN],
    ['1.250,5', ',', undefined],
    ['1,250', '.', undefined],
    ['0x10', '.', undefined],
    ['Infinity', '.', undefined],
    ['12:30', '.', undefined],
  ] as const)('the cell "%s" with the mark "%s" is %s', (cell, decimal, value) => {
    expect(numberIn(cell, decimal)).toEqual(value);
  });

  it('keeps its number in the file, whatever ends it, and without a byte order mark', () => {
    expect([...linesOf('\ufeffa\r\n\r\nb\nc')]).toEqual([
      { line: 'a', number: 1 },
      { line: 'b', number: 3 },
      { line: 'c', number: 4 },
    ]);
  });
});

describe('a preview', () => {
  it('guesses comma and point, columns, units and rate', () => {
    const { format, guess, rateHz, problems, rows, columns } = preview(table());
    expect(format).toEqual({ delimiter: ',', decimal: '.', firstLine: 2 });
    expect(guess).toEqual({
      time: MAPPING.time,
      sensors: [{ place: null, accel: MAPPING.accel, gyro: MAPPING.gyro }],
    });
    expect(rateHz).toBeCloseTo(200, 6);
    expect(problems).toEqual([]);
    expect(columns[1]).toBe('acc_x (m/s2)');
    expect(rows[0]![2]).toBe('9.800000');
  });

  it('guesses semicolons and decimal commas below lines of other text, and units that no name tells', () => {
    const head = 'Logger 4\nstarted;today\n\nTimestamp;AccX;AccY;AccZ;GyrX;GyrY;GyrZ';
    const text = table(head, (k) => [k * 5, 10, 990, 20, 5, 90 * Math.sin(k / 9), 2], ';').replaceAll('.', ',');
    const { format, guess } = preview(text);
    expect(format).toEqual({ delimiter: ';', decimal: ',', firstLine: 5 });
    expect(guess.time).toEqual({ column: 0, unit: 'ms' });
    expect(guess.sensors[0]).toMatchObject({ accel: { columns: [1, 2, 3], unit: 'mg' }, gyro: { unit: 'deg/s' } });
  });

  it('tells two sensors in one file apart by where they are said to be', () => {
    const names = ['sternum', 'sacrum'].flatMap((place) =>
      ['ax', 'ay', 'az', 'gx', 'gy', 'gz'].map((one) => `${place}_${one}`),
    );
    const row = (k: number) => [k * 0.01, 0, 1, 0, 1, 2, 3, 1, 0, 0, 3, 2, 1];
    const { guess } = preview(table(['t', ...names].join('\t'), row, '\t'));
    expect(guess.sensors).toMatchObject([
      { place: 'pelvis', accel: { columns: [7, 8, 9], unit: 'g' }, gyro: { columns: [10, 11, 12] } },
      { place: 'sternum', accel: { columns: [1, 2, 3], unit: 'g' }, gyro: { columns: [4, 5, 6] } },
    ]);
  });

  it('says what it did not recognise', () => {
    const { guess, problems } = preview(table('a,b,c,d,e,f,g', () => [0, 1, 1, 1, 1, 1, 1]));
    expect(guess.time).toBeNull();
    expect(problems.map((problem) => problem.split(' ').slice(0, 3).join(' '))).toEqual([
      'No column of',
      'The three columns',
      'The three columns',
    ]);
  });

  it.each([
    ['m/s2 said to be g', { accel: { columns: [1, 2, 3], unit: 'g' } }, /is 9.8 g.*Check the unit of acceleration/],
    [
      'the rates taken for the accelerations',
      { accel: { columns: [4, 5, 6], unit: 'm/s2' }, gyro: { columns: [1, 2, 3], unit: 'rad/s' } },
      /not those of the rates/,
    ],
    ['a column chosen twice', { accel: { columns: [1, 1, 3], unit: 'm/s2' } }, /column 2 is chosen twice/],
    ['seconds taken for milliseconds', { time: { column: 0, unit: 'ms' } }, /samples a second.*unit of time/],
    ['a column that is not there', { gyro: { columns: [4, 5, 9], unit: 'rad/s' } }, /column 10 is wanted/],
  ] as [string, Partial<CsvMapping>, RegExp][])('warns of %s', (_, change, message) => {
    expect(preview(table(), { ...MAPPING, ...change }).problems).toEqual([expect.stringMatching(message)]);
  });

  it('warns of rates in rad/s that are taken for deg/s while the sensor is shaken', () => {
    const shaken = table(HEAD, (k) => [k * 0.005, 0, 9.8 + 6 * Math.sin(k), 0, 0, 2 * Math.sin(k), 0]);
    const problems = preview(shaken, { ...MAPPING, gyro: { ...MAPPING.gyro, unit: 'deg/s' } }).problems;
    expect(problems).toEqual([expect.stringMatching(/may be in rad\/s/)]);
    expect(preview(shaken, MAPPING).problems).toEqual([]);
  });

  it.each([
    ['a header only', `${HEAD}\n`],
    ['prose', 'Dear coach,\nthe file is not attached.\n'],
    ['five columns', table('t,x,y,z,w', (k) => [k, 1, 2, 3, 4])],
  ])('of %s is refused', (_, text) => {
    expect(() => preview(text)).toThrow(/does not look like a table/);
  });

  it('leaves out a last line that was cut', () => {
    const cut = `${table()}2.0,0.1,9`;
    expect(preview(cut).problems).toEqual([]);
  });
});

describe('the samples of a table', () => {
  it('are in SI, from units that are not', () => {
    const text = table(HEAD, (k) => [k * 5000 + 1.7e15, 0.5, 1, -0.25, 90, -45, 1]);
    const { samples, rateHz } = read(text, {
      time: { column: 0, unit: 'us' },
      accel: { columns: [1, 2, 3], unit: 'g' },
      gyro: { columns: [4, 5, 6], unit: 'deg/s' },
    });
    const g = STANDARD_GRAVITY_MPS2;
    expect(samples[3]).toEqual({
      tS: 0.015,
      ax: 0.5 * g,
      ay: g,
      az: -0.25 * g,
      gx: 90 * RAD_PER_DEG,
      gy: -45 * RAD_PER_DEG,
      gz: RAD_PER_DEG,
    });
    expect(rateHz).toBeCloseTo(200, 6);
  });

  it('have the true rate when the times are rounded to whole ms', () => {
    const { rateHz } = read(table(HEAD, (k) => [Math.round((k * 1000) / 148.148) / 1000, 0, 9.8, 0, 0, 0, 1]));
    expect(Math.abs(rateHz - 148.148)).toBeLessThan(0.1);
  });

  it('are lost where a value is missing: no sample takes its place', () => {
    const text = table(HEAD, (k) => [k * 0.005, 0, k === 7 ? NaN : 9.8, 0, 0, 0, 1]);
    const { samples, rowsLost } = read(text);
    expect([samples.length, rowsLost]).toEqual([ROWS - 1, 1]);
    expect(samples[7]!.tS).toBeCloseTo(0.04, 9);
  });

  it('without a column of time count by the rate that is given', () => {
    const { samples, rateHz } = read(table(), { time: { rateHz: 100 } });
    expect([samples[50]!.tS, rateHz]).toEqual([0.5, 100]);
  });

  it.each([
    ['a time that goes back', (k: number) => (k === 9 ? 0 : k * 0.005), {}, /line 11: the time does not rise/],
    ['a time that stands still', (k: number) => Math.floor(k / 2) * 0.005, {}, /line 3: the time does not rise/],
    ['a rate of 20 a second', (k: number) => k * 0.05, {}, /has 20 samples a second/],
    ['the header among the rows', (k: number) => k * 0.005, { firstLine: 1 }, /line 1 holds "time \(s\)" in column 1/],
    ['a first row past the end', (k: number) => k * 0.005, { firstLine: 9999 }, /no rows of values/],
  ] as [string, (k: number) => number, Partial<CsvMapping>, RegExp][])(
    'are refused with %s',
    (_, time, change, message) => {
      expect(() =>
        read(
          table(HEAD, (k) => [time(k), 0, 9.8, 0, 0, 0, 1]),
          change,
        ),
      ).toThrow(message);
    },
  );
});
