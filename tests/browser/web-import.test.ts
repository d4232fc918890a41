/**
 * Recordings of other sensors through the page and the whole server. What comes out is held against what the command
 * `analyse` gives for the same recording of a real person, which lies beside the repository.
 */
import { execFileSync } from 'node:child_process';
import { cpSync, readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Columns } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import {
  METRICS,
  type AnalysisResult,
  type AthleteSummary,
  type MetricInfo,
  type Place,
  type TrialView,
} from '@ambipede/shared';
import { readRecording } from '../../server/src/exchange/motion-bids-reader.ts';
import type { Recording } from '../../server/src/motion/types.ts';
import { sharedRecordings } from '../bench/shared-recordings.ts';
import { csvOf, type CsvStyle } from '../support/csv-of.ts';
import { makeTempDir } from '../support/temp-dir.ts';
import { startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';
import { CHROMIUM, launchChromium } from './chromium.ts';
import { checkOf, choose, importedTrial, mapColumns, sayWhen, send, setUnits, wornAt } from './import-page.ts';

const TOP = fileURLToPath(new URL('../..', import.meta.url));
const WEB_DIR = join(TOP, 'web', 'dist');
const RECORDING = 'qmt_fullbody';
const LIMIT_MS = 120_000;
const STARTED_LOCAL = '2026-03-02T10:00:00';
/** Berlin is an hour ahead of UTC in March (IANA time zone database). */
const STARTED_UTC_MS = Date.UTC(2026, 2, 2, 9);

/** Nothing here tells what a column is: all of it is chosen by hand. Rates stand first, and z before y. */
const UNNAMED: CsvStyle = {
  delimiter: ';',
  decimal: ',',
  preamble: ['Messung;Halle 2', 'Rate;100'],
  header: ['Nr', 'K1', 'K2', 'K3', 'K4', 'K5', 'K6', 'K7'],
  columns: ['row', 'tS', 'gx', 'gz', 'gy', 'ax', 'az', 'ay'],
  digits: { time: 1, accel: 6, gyro: 5 },
  gyroUnit: 'rad/s',
  eol: '\r\n',
};
const WHERE = { time: 1, gx: 2, gz: 3, gy: 4, ax: 5, az: 6, ay: 7 };
/** What half a last digit of the table, and the counts in which samples are stored, may make of a mean. */
const ROUNDING = { deg: 0.002, s: 0.0001, g: 1e-5, m: 1e-5, 'deg/s': 0.002, '1': 1e-4, dB: 1e-4, N: 0, 'N/m': 0 };
/** Samples come back to the last bits of a double (tests/exchange/recorded-batches.test.ts); so do means of them. */
const LAST_BITS = 1e-9;

const folder = sharedRecordings();
describe.skipIf(CHROMIUM === undefined || folder === null)(
  `a real recording, ${RECORDING} (needs Chromium and ../shared/data)`,
  () => {
    let temp: Awaited<ReturnType<typeof makeTempDir>>;
    let postgres: TestPostgres;
    let api: TestApp;
    let browser: Browser;
    let page: Page;
    let recording: Recording;
    let expected: AnalysisResult;
    let trialId: string;
    const problems: string[] = [];

    beforeAll(async () => {
      temp = await makeTempDir();
      const copy = join(temp.folder, RECORDING);
      cpSync(join(folder!, RECORDING), copy, { recursive: true });
      expected = analysed(copy);
      recording = await readRecording(copy);
      postgres = await startTestPostgres();
      api = await startTestApp(await postgres.newDatabase(), { webDir: WEB_DIR });
      browser = await launchChromium();
      page = await (await browser.newContext({ serviceWorkers: 'block', timezoneId: 'Europe/Berlin' })).newPage();
      page.on('pageerror', (error) => problems.push(error.message));
      page.on('console', (message) => message.type() === 'error' && problems.push(message.text()));
    }, LIMIT_MS);
    afterAll(async () => {
      await browser?.close();
      await api?.close();
      await postgres?.stop();
      await temp?.remove();
    }, LIMIT_MS);

    /** As the command gives it when all of the recording is the walk, which is what the page is told too. */
    function analysed(recordingFolder: string): AnalysisResult {
      const events = readdirSync(recordingFolder).find((name) => name.endsWith('_events.tsv'))!;
      writeFileSync(join(recordingFolder, events), 'onset\tduration\ttrial_type\n0\t99.99\twalk\n');
      const out = join(temp.folder, 'result.json');
      const command = ['--import', 'tsx', 'server/src/analyse-command.ts', recordingFolder, '--out', out];
      execFileSync(process.execPath, command, { cwd: TOP });
      return JSON.parse(readFileSync(out, 'utf8')) as AnalysisResult;
    }

    const columnsOf = (place: Place): Columns => {
      const { samples } = recording.streams[place]!;
      const of = (key: keyof Columns) => Float64Array.from(samples, (sample) => sample[key]);
      return {
        ...{ tS: of('tS'), ax: of('ax'), ay: of('ay'), az: of('az') },
        ...{ gx: of('gx'), gy: of('gy'), gz: of('gz') },
      };
    };
    const newAthlete = (name: string) => api.call<AthleteSummary>('POST', '/api/athletes', { name }, 201);

    test(
      'comes in as two tables with odd columns, and has the left-right result that `analyse` gives',
      async () => {
        const { id } = await newAthlete('Nora Feldweg');
        await page.goto(`${api.url}/#/history/${id}`);
        await page.getByTestId('to-import').click();
        await page.getByRole('heading', { name: 'Bring in a recording: Nora Feldweg' }).waitFor();
        expect(await page.getByTestId('import-send').isDisabled()).toBe(true);

        for (const [i, place] of (['pelvis', 'sternum'] as const).entries()) {
          await choose(page, { name: `${place}.csv`, text: csvOf(columnsOf(place), UNNAMED) });
          await page.getByTestId('first-rows').nth(i).waitFor();
          await mapColumns(page, i, WHERE);
          await setUnits(page, i, { time: 'milliseconds', accel: 'g', gyro: 'radians per second' });
          await wornAt(page, i, place === 'pelvis' ? 'Pelvis' : 'Sternum');
          expect(await checkOf(page, i)).toMatch(/Nothing speaks against/);
        }
        expect(await page.locator('#table-0-delimiter').inputValue()).toBe(';');
        expect(await page.locator('#table-0-decimal').inputValue()).toBe(',');
        expect(await page.locator('#table-0-first-line').inputValue()).toBe('4');
        await page.getByLabel('Both files count time from the same moment').check();
        expect(await page.getByTestId('import-missing').innerText()).toMatch(
          /Choose the task[^]*Say when the recording started/,
        );
        await sayWhen(page, 'Walk', STARTED_LOCAL);
        await send(page);
        trialId = await importedTrial(page);

        const trial = await api.call<TrialView>('GET', `/api/trials/${trialId}`);
        expect(trial).toMatchObject({ task: 'walk', startedUtcMs: STARTED_UTC_MS, problem: null });
        expect(trial.stances.map(({ side }) => side)).toEqual(expected.stances.map(({ side }) => side));
        expect(differing(trial.asymmetry, expected.asymmetry, (unit) => ROUNDING[unit])).toEqual([]);
        await page.getByTestId('imported-trial').getByRole('link').click();
        await page.getByTestId('trial').waitFor();
        expect(problems).toEqual([]);
      },
      LIMIT_MS,
    );

    test(
      'goes out as an archive and comes in for another athlete, with the same result but for the last bits',
      async () => {
        const tar = await fetch(`${api.url}/api/trials/${trialId}/export/motion-bids`);
        const buffer = Buffer.from(await tar.arrayBuffer());
        const { id } = await newAthlete('Otto Other');
        await page.goto(`${api.url}/#/import/${id}`);
        await page.getByTestId('import-choose').setInputFiles({ name: 'walk.tar', mimeType: '', buffer });
        await page.getByTestId('import-about').waitFor();
        await send(page);
        const again = await importedTrial(page);
        expect(again).not.toBe(trialId);
        const view = (each: string) => api.call<TrialView>('GET', `/api/trials/${each}`);
        const [before, after] = await Promise.all([view(trialId), view(again)]);
        expect(after).toMatchObject({ task: 'walk', startedUtcMs: STARTED_UTC_MS, problem: null });
        expect(after.stances.map(({ side }) => side)).toEqual(before.stances.map(({ side }) => side));
        expect(differing(after.asymmetry, before.asymmetry, () => LAST_BITS)).toEqual([]);
        expect(problems).toEqual([]);
      },
      LIMIT_MS,
    );
  },
);

/** Metrics in which the differences of two results are further apart than rounding, as text. */
function differing(
  found: AnalysisResult['asymmetry'],
  wanted: AnalysisResult['asymmetry'],
  allowed: (unit: MetricInfo['unit']) => number,
): string[] {
  return Object.entries(wanted).flatMap(([key, metric]) => {
    const { unit } = METRICS[key as keyof typeof METRICS];
    const other = found[key as keyof typeof found]?.difference ?? null;
    const want = metric?.difference ?? null;
    const same = want === null || other === null ? want === other : Math.abs(want - other) <= allowed(unit);
    return same ? [] : [`${key}: ${other} instead of ${want}`];
  });
}
