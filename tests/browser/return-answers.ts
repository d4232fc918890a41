/** What the mock server answers about return episodes of the invented athlete a1. */
import {
  CAUTIONS,
  type ReturnCriterionState,
  type ReturnEpisodeView,
  type ReturnSession,
  type ReturnState,
} from '@ambipede/shared';
import type { Page } from 'playwright-core';
import type { World } from './page-world.ts';

const DAY_MS = 86_400_000;
export const ONSET_UTC_MS = Date.UTC(2026, 5, 1, 10);
export const LIST = '/api/athletes/a1/return-episodes';

/** Of a session `i` weeks after the onset. */
export function sessionOf(i: number, answer: ReturnSession['answer'], change: number | null): ReturnSession {
  return {
    sessionId: `s${i}`,
    utcMs: ONSET_UTC_MS + (i + 1) * 7 * DAY_MS,
    n: { left: 14, right: change === null ? 3 : 15 },
    tooFewStances: change === null,
    placementUncertainty: change === null ? null : 0.8,
    answer,
    difference: change === null ? null : change + 0.6,
    change,
    ci90: change === null ? null : [change - 1.1, change + 1.1],
  };
}

const BEFORE = { basis: 'before the injury', sessions: 4, mean: 0.6, standardError: 0.21 } as const;
const WHY_WEAKER = 'Only 1 session lies before the onset; three are needed.';

export function criterionOf(
  id: string,
  state: ReturnState,
  sessions: ReturnSession[],
  more: Partial<ReturnCriterionState> = {},
): ReturnCriterionState {
  return {
    ...{ id, episodeId: 'e1', task: 'run', metric: 'swingSideDropDeg', limit: 2.5, sessionsInARow: 2 },
    createdUtcMs: ONSET_UTC_MS,
    state,
    newestUtcMs: sessions[sessions.length - 1]?.utcMs ?? null,
    withinInARow: 0,
    missing: null,
    why: `Sentence of the server about ${id}.`,
    reference: sessions.length === 0 ? null : BEFORE,
    version: sessions.length === 0 ? null : '2.1.0',
    sessions,
    remarks: [],
    ...more,
  };
}

export function episodeView(more: Partial<ReturnEpisodeView> = {}): ReturnEpisodeView {
  return {
    ...{ id: 'e1', athleteId: 'a1', onsetUtcMs: ONSET_UTC_MS, affectedSide: 'left', baseline: 'before the injury' },
    question: 'May strides start again, and how many?',
    createdUtcMs: ONSET_UTC_MS,
    criteria: [
      criterionOf('c-outside', 'outside', [sessionOf(0, 'outside', 5.2), sessionOf(1, 'outside', 4.1)], {
        task: 'strides',
        reference: { basis: 'unaffected side', weaker: true, why: WHY_WEAKER },
        remarks: ['Sessions analysed by version 2.0.0 (3) are left out: only those of version 2.1.0 are compared.'],
      }),
      criterionOf('c-none', 'not measured', [], { task: 'run-up', missing: { unit: 'sessions', count: 2 } }),
      criterionOf('c-open', 'cannot tell', [sessionOf(0, 'cannot tell', null), sessionOf(1, 'cannot tell', -1.9)], {
        missing: { unit: 'stances a side', count: 12 },
      }),
      criterionOf('c-within', 'within', [sessionOf(1, 'within', 0.4), sessionOf(2, 'within', -0.3)], {
        task: 'walk',
        withinInARow: 2,
      }),
    ],
    decisions: [
      {
        id: 'd1',
        episodeId: 'e1',
        decidedUtcMs: ONSET_UTC_MS + 20 * DAY_MS,
        deciderName: 'Ada Brook',
        decision: 'Easy running only, twenty minutes, every second day. Look again in a week.',
        recordedByName: 'A. Brook',
        reason: 'No pain on single-leg hops; strides still uneven.',
        criteria: [
          {
            task: 'strides',
            metric: 'swingSideDropDeg',
            limit: 2.5,
            sessionsInARow: 2,
            state: 'outside',
            withinInARow: 0,
            newestUtcMs: ONSET_UTC_MS + 18 * DAY_MS,
            version: '2.1.0',
            why: 'Left minus right is outside the limit in the newest session.',
            change: 6.3,
            ci90: [4.9, 7.7],
          },
        ],
      },
    ],
    cautions: CAUTIONS,
    ...more,
  };
}

/** As many criteria and sessions as an episode can have to show. */
export function longEpisode(criteria: number, sessions: number): ReturnEpisodeView {
  const many = Array.from({ length: sessions }, (_, i) => sessionOf(i, 'cannot tell', 2 - i / 10));
  return episodeView({
    criteria: Array.from({ length: criteria }, (_, i) => criterionOf(`c${i}`, 'cannot tell', many)),
  });
}

/** The only episode of the athlete, from now on. */
export function tellEpisode({ server }: World, view: ReturnEpisodeView): void {
  server.answers.set(`GET ${LIST}`, [view]);
  server.answers.set(`GET ${LIST}/e1`, view);
}

/** The page is made anew even when only the hash differs. */
export async function showReturn(page: Page, { server }: World, hash: string, shows: string): Promise<void> {
  await page.goto('about:blank');
  await page.goto(`${server.address}/${hash}`);
  await page.getByTestId(shows).first().waitFor();
}
