/** What is written down along the history: what may be said of each kind, and adding, changing and removing it on the page. */
import { ANNOTATION_KINDS, type Annotation, type AnnotationChange, type NewAnnotation } from '@ambipede/shared';
import type { Locator, Page, Route } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import { faultOfAnnotation } from '../../server/src/history/annotation-rules.ts';
import {
  annotationOf as typed,
  changeOf,
  draftOf,
  problemsOf,
  type AnnotationDraft,
} from '../../web/src/history/annotation-draft.ts';
import { waitUntil } from '../support/wait-until.ts';
import { CHROMIUM } from './chromium.ts';
import { ANNOTATIONS, annotationOf, historyOf } from './history-answers.ts';
import { showScene } from './page-scenes.ts';
import { usePage } from './page-suite.ts';
import type { World } from './page-world.ts';

const NOW_UTC_MS = Date.UTC(2026, 9, 1, 12, 30);
const HISTORY = 'GET /api/athletes/a1/session-history';

describe('an annotation as it is typed', () => {
  const draft = (over: Partial<AnnotationDraft> = {}): AnnotationDraft => ({
    ...draftOf(null, NOW_UTC_MS),
    author: 'Tilde Marsh',
    ...over,
  });

  test('the form refuses what the server refuses, and what it lets through the server takes', () => {
    const seen = new Set<boolean>();
    for (const kind of ANNOTATION_KINDS)
      for (const text of ['', '  ', 'grass'])
        for (const pain of ['', '0', '10'])
          for (const side of ['left', 'both', null] as const) {
            const one = draft({ kind, text, pain, side });
            const sent = typed({ ...one, pain: one.pain === '' ? 'NaN' : one.pain });
            const painLevel = Number.isNaN(sent.painLevel) ? null : (sent.painLevel ?? null);
            const said = { kind, atUtcMs: sent.atUtcMs, side: sent.side ?? null, painLevel, text: sent.text ?? '' };
            const isRefused = faultOfAnnotation(said, NOW_UTC_MS) !== null;
            expect([one, Object.keys(problemsOf(one, NOW_UTC_MS)).length > 0]).toEqual([one, isRefused]);
            seen.add(isRefused);
          }
    expect(seen.size).toBe(2);
  });

  test('a pain of 0 is a level, and no level is none; what belongs to another kind is left behind', () => {
    expect(typed(draft({ kind: 'pain', pain: '0', side: 'right' }))).toMatchObject({ painLevel: 0, side: 'right' });
    expect(typed(draft({ kind: 'shoes', pain: '4', side: 'right', text: 'Flats' }))).toMatchObject({
      painLevel: null,
      side: null,
    });
    expect(problemsOf(draft({ kind: 'pain' }), NOW_UTC_MS)).toHaveProperty('pain');
  });

  test('no time, a time to come and no name are each refused at their field', () => {
    const wrong = (over: Partial<AnnotationDraft>) =>
      Object.keys(problemsOf(draft({ text: 'x', ...over }), NOW_UTC_MS));
    expect(wrong({})).toEqual([]);
    expect(wrong({ at: '' })).toEqual(['at']);
    expect(wrong({ at: draftOf(null, NOW_UTC_MS + 60_000).at })).toEqual(['at']);
    expect(wrong({ author: '  ' })).toEqual(['author']);
    expect(wrong({ text: 'x'.repeat(2000) })).toEqual([]);
    expect(wrong({ text: 'x'.repeat(2001) })).toEqual(['text']);
  });

  test('a change holds what was changed alone: an untouched time keeps its seconds', () => {
    const before = annotationOf('n1', { kind: 'pain', painLevel: 3, text: '', atUtcMs: NOW_UTC_MS + 12_345 });
    const open = draftOf(before, NOW_UTC_MS);
    expect(changeOf(before, open)).toBeNull();
    expect(changeOf(before, { ...open, pain: '0' })).toEqual({ painLevel: 0 });
    expect(changeOf(before, { ...open, side: 'left', author: ' Jon Heide ' })).toEqual({
      side: 'left',
      authorName: 'Jon Heide',
    });
    expect(changeOf({ ...before, side: 'left' }, open)).toEqual({ side: null });
    const earlier = draftOf({ ...before, atUtcMs: NOW_UTC_MS - 3_600_000 }, NOW_UTC_MS).at;
    expect(changeOf(before, { ...open, at: earlier })).toEqual({ atUtcMs: NOW_UTC_MS - 3_600_000 });
  });
});

describe.skipIf(CHROMIUM === undefined)('annotations on the page (needs Chromium)', () => {
  let world: World;
  let page: Page;
  let stored: Annotation[];
  let asked: { what: string; body: unknown }[];
  /** The server refuses the next writing with this sentence. */
  let refusal: string | null;
  usePage(
    async (suite) => {
      ({ world, page } = suite);
      stored = [...ANNOTATIONS];
      asked = [];
      refusal = null;
      await page.clock.setFixedTime(NOW_UTC_MS);
      await page.route('**/api/athletes/a1/annotations**', answer);
      await showScene(page, world, 'history');
      await page.getByTestId('annotations').waitFor();
    },
    { timezoneId: 'UTC' },
  );

  async function answer(route: Route): Promise<void> {
    const request = route.request();
    const id = new URL(request.url()).pathname.split('/')[5];
    asked.push({ what: `${request.method()} ${id ?? ''}`.trim(), body: request.postDataJSON() as unknown });
    if (refusal !== null)
      return route.fulfill({ status: 400, json: { error: { code: 'invalid-annotation', message: refusal } } });
    if (request.method() === 'POST') {
      stored.push({ ...annotationOf('new'), ...(request.postDataJSON() as NewAnnotation) });
    } else if (request.method() === 'PATCH') {
      const change = request.postDataJSON() as AnnotationChange;
      stored = stored.map((each) => (each.id === id ? { ...each, ...change } : each));
    } else {
      stored = stored.filter((each) => each.id !== id);
    }
    stored.sort((a, b) => a.atUtcMs - b.atUtcMs);
    world.server.answers.set(HISTORY, historyOf({ annotations: stored }));
    return route.fulfill({ json: stored.find((each) => each.id === (id ?? 'new')) ?? { id } });
  }

  const entry = (id: string): Locator => page.locator(`[data-testid=annotation][data-id=${id}]`);
  const form = () => page.getByTestId('annotation-form');
  const ids = () => page.getByTestId('annotation').evaluateAll((all) => all.map((each) => each.dataset['id']));
  const told = (words: string) =>
    waitUntil(`the page says ${words}`, async () => (await page.getByTestId('annotations-told').innerText()) === words);

  test('the list says kind, level, side, time, text and who said it, newest on top', async () => {
    expect(await ids()).toEqual(['n3', 'n2', 'n1']);
    const words = async (id: string) => (await entry(id).innerText()).replace(/\s+/g, ' ');
    expect(await words('n3')).toContain('Pain 3 of 10 left · 10 Jul 2026, 16:00');
    expect(await words('n2')).toContain('Injury left · 5 Jun 2026, 16:00 Ankle rolled in training says Tilde Marsh');
    expect(await words('n1')).toContain('Shoes · 1 Apr 2026, 16:00 New spikes');
  });

  test('a pain is added once it says all it must: what is missing stands beside its field, which has the focus', async () => {
    await page.getByTestId('annotation-add').click();
    await form().getByRole('radio', { name: 'Pain' }).check();
    await form().getByRole('button', { name: 'Save' }).click();
    const author = form().getByLabel('Who says so');
    await waitUntil('the name has the focus', () => author.evaluate((each) => each === document.activeElement));
    expect(await author.getAttribute('aria-invalid')).toBe('true');
    const says = async (field: Locator) =>
      page.locator(`[id="${(await field.getAttribute('aria-describedby'))!.split(' ')[0]}"]`).innerText();
    expect(await says(author)).toBe('Type the name of whoever says so.');
    const pain = form().getByLabel('Pain, 0 to 10');
    expect(await says(pain)).toBe('Choose a number from 0 to 10.');
    expect(asked).toEqual([]);

    await author.fill('Mira Sand');
    await pain.selectOption('0');
    await form().getByRole('radio', { name: 'Both' }).check();
    await form().getByLabel('When it was so').fill('2026-07-20T08:15');
    await form().getByRole('button', { name: 'Save' }).click();
    await told('Written down.');
    const atUtcMs = Date.UTC(2026, 6, 20, 8, 15);
    expect(asked).toEqual([
      { what: 'POST', body: { kind: 'pain', atUtcMs, authorName: 'Mira Sand', side: 'both', painLevel: 0, text: '' } },
    ]);
    expect(await ids()).toEqual(['new', 'n3', 'n2', 'n1']);
    expect((await entry('new').innerText()).replace(/\s+/g, ' ')).toContain('Pain 0 of 10 both sides');
    expect(await page.getByTestId('plot-note').count()).toBe(4);
  });

  test('what the server refuses is said, and what was typed is kept', async () => {
    await page.getByTestId('annotation-add').click();
    await form().getByLabel('Who says so').fill('Mira Sand');
    await form().getByLabel('The note').fill('Windy');
    refusal = 'Check the clock of this device.';
    await form().getByRole('button', { name: 'Save' }).click();
    await form().getByText('Check the clock of this device.').waitFor();
    expect(await form().getByLabel('The note').inputValue()).toBe('Windy');
    refusal = null;
    await form().getByRole('button', { name: 'Save' }).click();
    await told('Written down.');
    expect(await ids()).toContain('new');
  });

  test('a change sends what was changed alone, and the list being refreshed meanwhile takes nothing away', async () => {
    await entry('n2')
      .getByRole('button', { name: /^Change/ })
      .click();
    await form().getByLabel('Which injury').fill('Ankle, left, rolled');
    const again = page.waitForResponse('**/session-history?*');
    await again;
    expect(await form().getByLabel('Which injury').inputValue()).toBe('Ankle, left, rolled');
    await form().getByRole('button', { name: 'Save' }).click();
    await told('Changed.');
    expect(asked).toEqual([{ what: 'PATCH n2', body: { text: 'Ankle, left, rolled' } }]);
    expect(await entry('n2').innerText()).toContain('Ankle, left, rolled');
    expect(await form().count()).toBe(0);
  });

  test('an entry is removed only when asked twice, and keeping it keeps it', async () => {
    const remove = () => entry('n1').getByRole('button', { name: /^Remove/ });
    await remove().click();
    await entry('n1').getByText('Remove this entry for good?').waitFor();
    await entry('n1').getByRole('button', { name: 'Keep it' }).click();
    expect(asked).toEqual([]);
    await remove().click();
    refusal = 'The disk is full: make room.';
    await remove().click();
    await entry('n1').getByText('The disk is full: make room.').waitFor();
    expect(await ids()).toContain('n1');
    refusal = null;
    await remove().click();
    await told('Removed.');
    expect(asked.map(({ what }) => what)).toEqual(['DELETE n1', 'DELETE n1']);
    expect(await ids()).toEqual(['n3', 'n2']);
  });

  test('an entry of long ago is in the list and says that the axis does not show it', async () => {
    const old = annotationOf('old', { atUtcMs: Date.UTC(2014, 3, 1) });
    world.server.answers.set(HISTORY, historyOf({ annotations: [old, ...ANNOTATIONS] }));
    await page.reload();
    await entry('old').waitFor();
    expect(await entry('old').innerText()).toContain('not on the time axis');
    expect(await entry('n1').innerText()).not.toContain('not on the time axis');
    expect(await page.getByTestId('plot-note').count()).toBe(3);
  });
});
