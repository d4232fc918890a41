/** What the mock server answers about a recording that is brought in, and how a page comes to show it. */
import type { ImportAnswer, ImportPreview, SessionView } from '@ambipede/shared';
import type { Page } from 'playwright-core';
import { choose, sayWhen, send, wornAt } from './import-page.ts';
import { trialOf } from './page-answers.ts';
import type { World } from './page-world.ts';

const AXES = ['x', 'y', 'z'];
const ROW = ['0,00', '0,012', '0,998', '-0,051', '1,2', '-0,4', '0,9', '3,91'];
const PREVIEW: ImportPreview = {
  format: { delimiter: ';', decimal: ',', firstLine: 4 },
  columns: [
    'Time (ms)',
    ...AXES.map((axis) => `Acc ${axis} (g)`),
    ...AXES.map((axis) => `Gyro ${axis}`),
    'Battery (V)',
  ],
  rows: Array.from({ length: 8 }, (_, i) => [`${i * 5},00`, ...ROW.slice(1)]),
  guess: {
    time: { column: 0, unit: 'ms' },
    sensors: [
      {
        place: null,
        accel: { columns: [1, 2, 3], unit: 'g' },
        gyro: { columns: [4, 5, 6], unit: 'rad/s' },
      },
    ],
  },
  rateHz: 200,
  problems: [
    'Rates of up to 9000 deg/s are faster than a trunk turns. Check the unit of the rates, and their columns.',
  ],
};

export function answerImports({ server }: World): void {
  const trials = [{ ...trialOf('walk', 7), sessionId: 's8', importedFrom: 'pelvis.csv' }];
  const answer: ImportAnswer = {
    sessionId: 's8',
    trials: trials.map((trial) => ({ ...trial, state: 're-analysing' })),
    remarks: ['Pelvis sensor: samples are unevenly spaced; their times are kept to within 0.5 ms.'],
  };
  const session: SessionView = {
    ...{ id: 's8', athleteId: 'a1', startedUtcMs: trials[0]!.startedUtcMs, endedUtcMs: trials[0]!.endedUtcMs },
    ...{ leadInStep: null, leadIn: [], mounting: {}, trials },
  };
  server.answers.set('POST /api/import/preview', PREVIEW);
  server.answers.set('POST /api/athletes/a1/imports/csv', answer);
  server.answers.set('GET /api/sessions/s8', session);
}

/** With everything open that the page has: two tables, what the server doubts, parts, and a file that was refused. */
export async function chooseTable(page: Page): Promise<void> {
  const names = ['pelvis.csv', 'chest.csv', 'third.csv'];
  await choose(page, ...names.map((name) => ({ name, text: 'Time;Acc\n0,00;0,998\n' })));
  await page.getByTestId('first-rows').nth(1).waitFor();
  await wornAt(page, 0, 'Pelvis');
  await page.getByTestId('import-refused').getByText('third.csv').waitFor();
  await page.getByTestId('sensor-check').nth(1).getByText('Check the unit').waitFor();
  await page.getByTestId('mark-add').click();
}

export async function importTable(page: Page): Promise<void> {
  await choose(page, { name: 'pelvis.csv', text: 'Time;Acc\n0,00;0,998\n' });
  await wornAt(page, 0, 'Pelvis');
  await sayWhen(page, 'Walk', '2026-03-02T10:00:00');
  await send(page);
  await page.locator('[data-testid=imported-trial][data-state=final]').waitFor();
}
