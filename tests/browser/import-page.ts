/** The page that brings recordings in, as tests work it: by its labels, as a person does. */
import type { Page } from 'playwright-core';
import { waitUntil } from '../support/wait-until.ts';

export interface TextFile {
  name: string;
  text: string;
}
type Columns = Record<'time' | 'ax' | 'ay' | 'az' | 'gx' | 'gy' | 'gz', number>;

export async function choose(page: Page, ...files: TextFile[]): Promise<void> {
  const payloads = files.map(({ name, text }) => ({ name, mimeType: 'text/csv', buffer: Buffer.from(text) }));
  await page.getByTestId('import-choose').setInputFiles(payloads);
}

/** @param index of the table on the page. @param columns counted from 0 */
export async function mapColumns(page: Page, index: number, columns: Columns): Promise<void> {
  const id = `#table-${index}`;
  const select = (field: string, column: number) => page.locator(`${id}-${field}`).selectOption({ index: column + 1 });
  await select('time-column', columns.time);
  for (const axis of ['x', 'y', 'z'] as const) {
    await select(`sensor-0-accel-${axis}`, columns[`a${axis}`]);
    await select(`sensor-0-gyro-${axis}`, columns[`g${axis}`]);
  }
}

export async function setUnits(page: Page, index: number, units: { time?: string; accel?: string; gyro?: string }) {
  const set = (field: string, label: string | undefined) =>
    label === undefined ? null : page.locator(`#table-${index}-${field}`).selectOption({ label });
  await set('time-unit', units.time);
  await set('sensor-0-accel-unit', units.accel);
  await set('sensor-0-gyro-unit', units.gyro);
}

export async function wornAt(page: Page, index: number, place: 'Pelvis' | 'Sternum'): Promise<void> {
  await page.getByTestId('import-table').nth(index).getByRole('radio', { name: place }).check();
}

export async function sayWhen(page: Page, task: string, localTime: string): Promise<void> {
  await page.getByLabel('Task', { exact: true }).selectOption({ label: task });
  await page.getByLabel('Start of the recording').fill(localTime);
}

/** What the server says of the columns of a table, once it has looked at those that are chosen now. */
export async function checkOf(page: Page, index: number): Promise<string> {
  const said = page.getByTestId('import-table').nth(index).getByTestId('sensor-check');
  return waitUntil('the server has looked at the columns', async () => {
    const text = await said.innerText();
    return text === '' || text.includes('…') ? null : text;
  });
}

export async function send(page: Page): Promise<void> {
  await page.getByTestId('import-send').click();
}

/** The id of the first trial, once all results are there. */
export async function importedTrial(page: Page): Promise<string> {
  const trial = page.locator('[data-testid=imported-trial][data-state=final]').first();
  await trial.waitFor();
  return (await trial.getAttribute('data-id'))!;
}
