/** A live page in a real browser with a server that says what the test wants; for the tests of what happens during and after a trial. */
import {
  STANCE_METRIC_KEYS,
  type LiveMessage,
  type LiveSession,
  type MetricAsymmetry,
  type Stance,
  type StanceMetricKey,
  type Task,
  type TaskSummary,
  type TrialView,
} from '@ambipede/shared';
import type { Browser, Locator, Page } from 'playwright-core';
import { expect } from 'vitest';
import { startMockServer, type MockServer } from './web-mock-server.ts';

export const SESSION: LiveSession = { sessionId: 's1', startedUtcMs: 0, leadInStep: null, trial: null };
export const EMPTY_SUMMARY: TaskSummary = {
  stand: [],
  singleLegStand: [],
  runUp: [],
  landing: [],
  halfTurn: [],
  remarks: [],
};

export function running(task: Task, trialId = 't1'): LiveSession {
  return { ...SESSION, trial: { trialId, task, startedUtcMs: Date.now() - 3000 } };
}

export function stance(id: number, side: Stance['side'], more: Partial<Stance> = {}): Stance {
  const values = Object.fromEntries(STANCE_METRIC_KEYS.map((key) => [key, 2])) as Record<StanceMetricKey, number>;
  const times = { initialContact: id, toeOff: id + 0.2, sidePosterior: 0.99 };
  return { ...values, id, revision: 0, side, ...times, gait: 'run', ...more };
}

export function asymmetry(n: number): MetricAsymmetry {
  return {
    left: { n, mean: 6, sd: 1 },
    right: { n, mean: 4, sd: 1 },
    difference: 2,
    ci95: [1, 3],
    missingStances: { left: 0, right: 0 },
    verdict: 'more than scatter',
  };
}

export function trialView(task: Task, more: Partial<TrialView> = {}): TrialView {
  return {
    id: 't1',
    sessionId: 's1',
    athleteId: 'a1',
    task,
    state: 'final',
    startedUtcMs: Date.now() - 20_000,
    endedUtcMs: Date.now(),
    stanceCount: { left: 0, right: 0 },
    version: 'test',
    problem: null,
    bodyMassKg: null,
    tags: [],
    note: '',
    discarded: false,
    stances: [],
    asymmetry: {},
    quality: null,
    taskSummary: EMPTY_SUMMARY,
    ...more,
  };
}

export class TrialBench {
  readonly server: MockServer;
  readonly page: Page;
  session: LiveSession | null = SESSION;

  private constructor(server: MockServer, page: Page) {
    this.server = server;
    this.page = page;
  }

  /** Opens the live page of athlete a1, whose cautions of session s1 have been read. */
  static async open(browser: Browser, session: LiveSession | null): Promise<TrialBench> {
    const server = await startMockServer();
    const page = await (await browser.newContext({ viewport: { width: 1180, height: 820 } })).newPage();
    const bench = new TrialBench(server, page);
    bench.session = session;
    server.greeting = () => [
      { type: 'hello', serverUtcMs: Date.now(), version: 'test', athleteId: 'a1' },
      { type: 'session', session: bench.session },
    ];
    server.answers.set('GET /api/athletes', []);
    await page.addInitScript(() => localStorage.setItem('ambipede.cautions-read.a1', 's1'));
    await page.goto(`${server.address}/#/live/a1`);
    await bench.becomes(() => bench.at('live-area').getAttribute('data-stale'), 'false');
    return bench;
  }

  async close(): Promise<void> {
    await this.page.context().close();
    await this.server.close();
  }

  at = (id: string): Locator => this.page.getByTestId(id);
  task = (task: Task): Locator => this.page.locator(`[data-testid="task-choice"][data-task="${task}"]`);
  text = (id: string) => (): Promise<string> => this.at(id).innerText();
  value = (id: string) => (): Promise<string | null> => this.at(id).getAttribute('data-value');

  send(...messages: LiveMessage[]): void {
    for (const message of messages) this.server.send(message);
  }

  become(session: LiveSession | null): void {
    this.session = session;
    this.send({ type: 'session', session });
  }

  becomes(read: () => Promise<unknown>, wanted: unknown): Promise<void> {
    return expect.poll(read, { timeout: 15_000 }).toEqual(wanted);
  }

  /** Stops the trial on screen, with this as what the server keeps of it. */
  stop(view: TrialView): void {
    this.server.answers.set(`GET /api/trials/${view.id}`, view);
    this.become(SESSION);
  }

  /** Cuts the connection and lets the page come back. */
  async reconnect(): Promise<void> {
    const before = this.server.connections;
    this.server.beating = false;
    await this.becomes(async () => this.server.connections > before, true);
    this.server.beating = true;
    await this.becomes(() => this.at('live-area').getAttribute('data-stale'), 'false');
  }
}
