/** Curves over the stance on the live page. */
import { WAVEFORM_POINTS, type Waveform } from '@ambipede/shared';
import type { Browser } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { CHROMIUM, launchChromium } from './chromium.ts';
import { TrialBench, running, trialView } from './web-trial-page.ts';

describe.skipIf(CHROMIUM === undefined)('the curves', () => {
  let browser: Browser;
  let bench: TrialBench;

  beforeAll(async () => {
    browser = await launchChromium();
  });
  afterAll(() => browser?.close());
  afterEach(() => bench.close());

  const has = (id: string, part: string) =>
    bench.becomes(async () => (await bench.at(id).allInnerTexts()).join(' ').includes(part), true);

  const wave = (n: number, at: (percent: number) => number): Waveform => {
    const mean = Array.from({ length: WAVEFORM_POINTS }, (_, i) => at((100 * i) / (WAVEFORM_POINTS - 1)));
    return { n, mean, sd: n > 1 ? mean.map(() => 0.5) : null };
  };
  const table = () => bench.at('curve-table').first().locator('tbody tr').allInnerTexts();
  const cells = async () => (await table()).map((row) => row.replace(/\s+/g, ' ').trim());

  test('curves over the stance: the numbers as sent for a reader, sides apart by dash; final ones replace live ones', async () => {
    bench = await TrialBench.open(browser, running('run'));
    const left = { swingSideHeightDeg: wave(4, (percent) => percent / 10), leanToStanceDeg: null };
    const right = { swingSideHeightDeg: wave(1, () => -2), leanToStanceDeg: null };
    bench.send({ type: 'waveforms', trialId: 't1', provisional: true, waveforms: { left, right } });
    await bench.becomes(cells, [
      '0 % 0.0°, sd 0.5° −2.0°, sd –',
      '20 % 2.0°, sd 0.5° −2.0°, sd –',
      '40 % 4.0°, sd 0.5° −2.0°, sd –',
      '60 % 6.0°, sd 0.5° −2.0°, sd –',
      '80 % 8.0°, sd 0.5° −2.0°, sd –',
      '100 % 10.0°, sd 0.5° −2.0°, sd –',
    ]);
    expect(await bench.at('curve').count()).toBe(1);
    const styles = await bench
      .at('curve')
      .locator('.line')
      .evaluateAll((lines) => lines.map((line) => getComputedStyle(line).borderTopStyle));
    expect(styles).toEqual(['solid', 'dashed']);
    await has('curves', 'Provisional');

    const none = { swingSideHeightDeg: null, leanToStanceDeg: null, sideBendDeg: null, separationDeg: null };
    const waveforms = { left: { ...none, sideBendDeg: wave(9, () => 1) }, right: none };
    bench.server.answers.set('GET /api/trials/t1/waveforms', { trialId: 't1', version: 'test', waveforms });
    bench.stop(trialView('run'));
    await bench.becomes(() => bench.at('curve').getAttribute('data-key'), 'sideBendDeg');
    await has('curves', 'Final');
    await has('curve', 'no curve of the right side');
    expect((await cells())[0]).toBe('0 % 1.0°, sd 0.5° –');
  });

  /** Share of columns of the plot in which a colour like this one is drawn. */
  const inked = (token: string) =>
    bench.page.evaluate((name) => {
      const canvas = document.querySelector<HTMLCanvasElement>('[data-testid="curve"] canvas')!;
      const wanted = getComputedStyle(document.documentElement).getPropertyValue(name).trim();
      const [r, g, b] = [1, 3, 5].map((at) => parseInt(wanted.slice(at, at + 2), 16)) as [number, number, number];
      const { data, width, height } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height);
      let columns = 0;
      for (let x = 0; x < width; x += 1) {
        for (let y = 0; y < height; y += 1) {
          const at = 4 * (y * width + x);
          const off = Math.abs(data[at]! - r) + Math.abs(data[at + 1]! - g) + Math.abs(data[at + 2]! - b);
          if (data[at + 3]! < 200 || off > 12) continue;
          columns += 1;
          break;
        }
      }
      return columns / width;
    }, token);

  test('the line of the left is drawn through, that of the right in dashes', async () => {
    bench = await TrialBench.open(browser, running('run'));
    const flat = (deg: number) => ({ swingSideHeightDeg: { ...wave(5, () => deg), sd: null }, leanToStanceDeg: null });
    bench.send({
      type: 'waveforms',
      trialId: 't1',
      provisional: true,
      waveforms: { left: flat(2), right: flat(-2) },
    });
    await bench.becomes(async () => (await inked('--left')) > 0.8, true);
    const right = await inked('--right');
    expect(right).toBeGreaterThan(0.35);
    expect(right).toBeLessThan(0.75);
  });
});
