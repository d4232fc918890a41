/** What the page that brings recordings in refuses, before and after sending: each with what to do, and nothing that was chosen is lost. */
import { truncateSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { exampleAthlete, ideal, simulateSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { IMPORT_CSV_BYTES_MAX, type AthleteSummary } from '@ambipede/shared';
import type { Database } from '../../server/src/store/database.ts';
import { csvOf } from '../support/csv-of.ts';
import { makeTempDir } from '../support/temp-dir.ts';
import { startTestApp, type TestApp } from '../support/test-app.ts';
import { startTestPostgres, type TestPostgres } from '../support/test-postgres.ts';
import { CHROMIUM, launchChromium } from './chromium.ts';
import { checkOf, choose, importedTrial, sayWhen, send, setUnits, wornAt } from './import-page.ts';

const WEB_DIR = fileURLToPath(new URL('../../web/dist', import.meta.url));
const LIMIT_MS = 60_000;
const STARTED = '2026-03-02T10:00:00';
const movement = simulateSession({
  seed: 4,
  athlete: exampleAthlete(4),
  script: [
    { kind: 'reference_stand', seconds: 3 },
    { kind: 'walk', seconds: 5, cadencePerMin: 110 },
  ],
  sensors: { pelvis: ideal('pelvis', { rateHz: 100 }) },
});
const WALK = { name: 'walk.csv', text: csvOf(movement.streams.pelvis) };

describe.skipIf(CHROMIUM === undefined)('bringing a recording in (needs Chromium)', () => {
  let temp: Awaited<ReturnType<typeof makeTempDir>>;
  let postgres: TestPostgres;
  let database: Database;
  let api: TestApp;
  let browser: Browser;
  let page: Page;
  let athleteId: string;

  beforeAll(async () => {
    temp = await makeTempDir();
    postgres = await startTestPostgres();
    database = await postgres.newDatabase();
    api = await startTestApp(database, { webDir: WEB_DIR });
    ({ id: athleteId } = await api.call<AthleteSummary>('POST', '/api/athletes', { name: 'Rika Refused' }, 201));
    browser = await launchChromium();
  }, LIMIT_MS);
  afterAll(async () => {
    await browser?.close();
    await api?.close();
    await postgres?.stop();
    await temp?.remove();
  });
  beforeEach(async () => {
    page = await (await browser.newContext({ serviceWorkers: 'block' })).newPage();
    await page.goto(`${api.url}/#/import/${athleteId}`);
    await page.getByTestId('import-choose').waitFor();
  });
  afterEach(() => page.context().close());

  const shown = (id: string) => page.getByTestId(id).innerText();
  const refused = (sentence: RegExp) => page.getByTestId('import-refused').getByText(sentence).waitFor();
  const isReady = async () => !(await page.getByTestId('import-send').isDisabled());
  const sessionsStored = async () => (await database.sql`select count(*)::int as n from sessions`)[0]!['n'] as number;
  const makeReady = async () => {
    await choose(page, WALK);
    await wornAt(page, 0, 'Pelvis');
    await sayWhen(page, 'Walk', STARTED);
    await checkOf(page, 0);
  };

  test('without the columns of the gyroscope it says which are missing, and cannot be sent', async () => {
    const [header = '', ...rows] = WALK.text.split('\r\n');
    const text = [header.replaceAll('Gyro', 'Extra'), ...rows].join('\r\n');
    await choose(page, { name: 'extra.csv', text });
    await wornAt(page, 0, 'Pelvis');
    await sayWhen(page, 'Walk', STARTED);
    expect(await shown('import-missing')).toMatch(
      /extra\.csv: choose the column of x, y, z of the turning rate\. Without turning rates/,
    );
    expect(await isReady()).toBe(false);
    await page.locator('#table-0-sensor-0-gyro-x').selectOption('5: Extra X (deg/s)');
    await page.getByTestId('import-missing').getByText('choose the column of y, z of the turning rate').waitFor();
    expect(await isReady()).toBe(false);
  });

  test(
    'in a unit that it is not in, it is doubted beside the columns, refused when sent, and taken when corrected',
    async () => {
      await makeReady();
      expect(await shown('import-missing')).toBe('Nothing is missing.');
      await setUnits(page, 0, { accel: 'm/s²' });
      await page
        .getByTestId('sensor-check')
        .getByText(/is 0\.1\d* g.*Check the unit of acceleration/)
        .waitFor();
      expect(await shown('import-missing')).toMatch(/doubts something above/);
      const before = await sessionsStored();
      await send(page);
      await page.getByTestId('import-failure').getByText('Nothing was stored').waitFor();
      expect(await shown('import-failure')).toMatch(/Pelvis sensor: .*Check the unit/);
      expect(await sessionsStored()).toBe(before);

      await setUnits(page, 0, { accel: 'g' });
      await send(page);
      await importedTrial(page);
      expect(await sessionsStored()).toBe(before + 1);
      expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('The recording is in');
    },
    LIMIT_MS,
  );

  test('that is there already is refused, and says what to do', async () => {
    await makeReady();
    await send(page);
    await page
      .getByTestId('import-failure')
      .getByText(/trial of the same time already/)
      .waitFor();
    expect(await shown('import-failure')).toMatch(/Correct the start time, or discard that trial first/);
  });

  test('that is no table is refused; the other files stay', async () => {
    await choose(page, { name: 'letter.csv', text: 'Dear athlete,\nthe training begins at nine.\n' });
    await page
      .getByTestId('table-failure')
      .getByText(/letter\.csv does not look like a table/)
      .waitFor();
    expect(await shown('import-missing')).toMatch(/letter\.csv: it has not been read/);
    await choose(page, WALK);
    await page.getByTestId('first-rows').waitFor();
    await page.getByRole('button', { name: 'Remove letter.csv' }).click();
    expect(await page.getByTestId('import-file').allInnerTexts()).toEqual([expect.stringContaining('walk.csv')]);
    await page.getByTestId('first-rows').waitFor();
  });

  test('with another delimiter is read anew, and with the right one again', async () => {
    await choose(page, WALK);
    await page.getByTestId('first-rows').waitFor();
    await page.locator('#table-0-delimiter').selectOption({ label: 'Tab' });
    await page.getByTestId('import-missing').getByText('choose the column of x, y, z of the acceleration').waitFor();
    await page.locator('#table-0-delimiter').selectOption({ label: 'Semicolon ;' });
    await page.getByTestId('rate-found').getByText('100.0 samples a second').waitFor();
    await page.getByLabel('Line of the first values').fill('two');
    await page.getByTestId('import-missing').getByText('type the number of the line with the first values').waitFor();
    await page.getByLabel('Line of the first values').fill('5');
    await page.getByLabel('Line of the first values').press('Enter');
    await page
      .getByRole('cell', { name: WALK.text.split('\r\n')[4]!.split(';')[1]!, exact: true })
      .first()
      .waitFor();
  });

  test('is refused before it is sent when it is empty, packed, too large, one too many, or chosen twice', async () => {
    await choose(page, { name: 'empty.csv', text: '' });
    await refused(/empty\.csv is empty/);
    const packed = { name: 'walk.csv.gz', mimeType: 'application/gzip', buffer: gzipSync(WALK.text) };
    await page.getByTestId('import-choose').setInputFiles(packed);
    await refused(/walk\.csv\.gz is compressed\. Unpack it/);
    const large = join(temp.folder, 'large.csv');
    writeFileSync(large, WALK.text);
    truncateSync(large, IMPORT_CSV_BYTES_MAX + 1);
    await page.getByTestId('import-choose').setInputFiles(large);
    await refused(/large\.csv has 134\.2 MB, and the server takes at most 134\.2 MB\. Cut the recording/);
    expect(await page.getByTestId('import-file').count()).toBe(0);

    const once = join(temp.folder, 'once.csv');
    writeFileSync(once, WALK.text);
    for (let i = 0; i < 2; i++) await page.getByTestId('import-choose').setInputFiles(once);
    await refused(/once\.csv has been chosen already/);
    await page.getByRole('button', { name: 'Remove once.csv' }).click();

    await choose(page, WALK, { ...WALK, name: 'chest.csv' }, { ...WALK, name: 'third.csv' });
    await refused(/third\.csv was not taken: at most two tables/);
    expect(await page.getByTestId('import-file').count()).toBe(2);
    expect(await page.getByTestId('import-choose').count()).toBe(0);
    for (const i of [0, 1]) await wornAt(page, i, 'Sternum');
    await page.getByTestId('import-missing').getByText('Both sensors are said to be at the same place').waitFor();
    await page.getByRole('button', { name: 'Remove chest.csv' }).click();
    const archive = { name: 'one.tar', mimeType: '', buffer: Buffer.alloc(1024) };
    await page.getByTestId('import-choose').setInputFiles(archive);
    await refused(/one\.tar was not taken: an archive is brought in by itself/);
  });

  test(
    'keeps everything that was chosen when the connection is lost, and comes in with the next try',
    async () => {
      await makeReady();
      await page.getByLabel('Start of the recording').fill('2026-03-03T10:00:00');
      await page.route('**/imports/csv', (route) => route.abort());
      await send(page);
      await page
        .getByTestId('import-failure')
        .getByText(/The server cannot be reached/)
        .waitFor();
      expect(await shown('import-failure')).toMatch(/Everything chosen here is kept.*stores it once/);
      expect(await page.getByTestId('import-file').count()).toBe(1);
      await page.unroute('**/imports/csv');
      await send(page);
      await importedTrial(page);
    },
    LIMIT_MS,
  );

  test('leaves nothing of a file behind when the page is left', async () => {
    await makeReady();
    await page.goto(`${api.url}/#/`);
    await page.getByTestId('athlete').first().waitFor();
    await page.goto(`${api.url}/#/import/${athleteId}`);
    await page.getByTestId('import-choose').waitFor();
    expect(await page.getByTestId('import-file').count()).toBe(0);
    const kept = await page.evaluate(async () => {
      const databases = await indexedDB.databases();
      return [localStorage.length, sessionStorage.length, databases.length, (await caches.keys()).length];
    });
    expect(kept).toEqual([0, 0, 0, 0]);
  });

  test(
    'takes parts for a lead-in and for trials, and says when one of them is wrong',
    async () => {
      await makeReady();
      await page.getByLabel('Start of the recording').fill('2026-03-04T10:00:00');
      await page.getByTestId('mark-add').click();
      await page.getByLabel('Part 1 is').selectOption({ label: 'The task: a trial' });
      await page.getByLabel('Part 1 starts at').fill('7,5');
      await page.getByLabel('Part 1 ends at').fill('3');
      await page.getByText('The end has to come after the start.').waitFor();
      expect(await isReady()).toBe(false);
      await page.getByLabel('Part 1 starts at').fill('3,5');
      await page.getByLabel('Part 1 ends at').fill('7.5');
      await send(page);
      const trial = await api.call<{ startedUtcMs: number; endedUtcMs: number }>(
        'GET',
        `/api/trials/${await importedTrial(page)}`,
      );
      expect(trial.endedUtcMs - trial.startedUtcMs).toBe(4000);
    },
    LIMIT_MS,
  );
});
