/** The pages as tests look at them and pictures show them: how to get there, and what has to be on screen. */
import type { Task } from '@ambipede/shared';
import type { Page } from 'playwright-core';
import { answerImports, chooseTable, importTable } from './import-answers.ts';
import { SCENES_OF_ACCESS, forgetAccess } from './access-answers.ts';
import { ASYMMETRY, STANCES } from './page-answers.ts';
import { SESSION, type World } from './page-world.ts';

export const SCREENS = {
  tablet: { width: 1180, height: 820 },
  phone: { width: 390, height: 844 },
} as const;
export const SCHEMES = ['light', 'dark'] as const;

export const SCENES = {
  roster: { hash: '#/', shows: 'athlete' },
  'live-before': { hash: '#/live/a1', shows: 'cautions', world: before },
  live: { hash: '#/live/a1', shows: 'trial-stop', world: during },
  'live-after': { hash: '#/live/a1', shows: 'trial-stop', world: during, then: stopTrial },
  'live-cue': { hash: '#/live/a1', shows: 'cue-toggle', world: standing, then: openCue },
  history: { hash: '#/history/a1', shows: 'history-row' },
  'history-open': { hash: '#/history/a1', shows: 'months', then: openHistory },
  trial: { hash: '#/trial/t5', shows: 'trial' },
  sensors: { hash: '#/sensors', shows: 'sensor-row' },
  'import-empty': { hash: '#/import/a1', shows: 'import-choose' },
  import: { hash: '#/import/a1', shows: 'import-choose', world: answerImports, then: chooseTable },
  imported: { hash: '#/import/a1', shows: 'import-choose', world: answerImports, then: importTable },
  ...SCENES_OF_ACCESS,
} as const satisfies Record<string, Scene>;
export type SceneName = keyof typeof SCENES;

export interface Scene {
  hash: string;
  /** data-testid of what is there when the scene is. */
  shows: string;
  /** Sets the feed. */
  world?: (world: World) => void;
  /** After that is there. */
  then?: (page: Page, world: World) => Promise<void>;
}

export async function showScene(page: Page, world: World, name: SceneName): Promise<void> {
  const { hash, shows, world: set, then }: Scene = SCENES[name];
  forgetAccess(world);
  set?.(world);
  // The page is made anew even when only the hash differs.
  await page.goto('about:blank');
  await page.goto(`${world.server.address}/${hash}`);
  await page.getByTestId(shows).first().waitFor();
  if (hash.startsWith('#/live')) await page.locator('[data-testid=live-area][data-stale=false]').waitFor();
  if (world.now.session?.trial?.task === 'run') sendTrial(world);
  await then?.(page, world);
}

function before(world: World): void {
  world.now = { ...world.now, session: SESSION, trunkTiltDeg: -4, obliquityDeg: 1.8 };
}

function standing(world: World): void {
  before(world);
  during(world, 'stand');
}

function during(world: World, task: Task = 'run'): void {
  const trial = { trialId: 't5', task, startedUtcMs: Date.now() - 30_000 };
  world.now = { ...world.now, session: { ...SESSION, startedUtcMs: trial.startedUtcMs, trial } };
}

function sendTrial({ server }: World): void {
  for (const stance of STANCES)
    server.send({ type: 'stance', trialId: 't5', stance, provisional: true, withdrawn: false });
  server.send({ type: 'asymmetry', trialId: 't5', provisional: true, metrics: ASYMMETRY });
}

async function stopTrial(page: Page, world: World): Promise<void> {
  world.now = { ...world.now, session: SESSION };
  world.tell();
  await page.locator('[data-testid=result-state]', { hasText: 'Final' }).first().waitFor();
}

async function openCue(page: Page): Promise<void> {
  await page.getByTestId('cue-toggle').click();
  await page.locator('[data-testid=cue-bar][data-state=right]').waitFor();
  await page.getByTestId('cue-toggle').evaluate((toggle) => toggle.scrollIntoView({ block: 'start' }));
}

/** Everything that opens on the page of the months, with what a form says of missing fields. */
async function openHistory(page: Page): Promise<void> {
  await page.getByTestId('session-row').first().getByRole('button').click();
  await page.getByTestId('compare-from').selectOption({ index: 2 });
  await page.getByTestId('compare-to').selectOption({ index: 1 });
  await page.getByTestId('comparison-result').waitFor();
  await page.getByTestId('annotation').last().getByRole('button').last().click();
  await page.getByTestId('annotation-add').click();
  await page.getByTestId('annotation-form').getByRole('radio', { name: 'Pain' }).check();
  await page.getByTestId('annotation-form').locator('button').first().click();
  await page.getByTestId('annotation-form').locator('[aria-invalid=true]').first().waitFor();
}
