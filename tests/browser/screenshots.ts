/** `npm run screenshots`: the pictures of docs/images, of the built pages with an invented athlete on the mock server. */
import { fileURLToPath } from 'node:url';
import { launchChromium } from './chromium.ts';
import { answerAll } from './page-answers.ts';
import { SCHEMES, SCREENS, showScene, type SceneName } from './page-scenes.ts';
import { startWorld } from './page-world.ts';

const IMAGES = fileURLToPath(new URL('../../docs/images', import.meta.url));
/** The scenes worth a picture, by the name of their files. */
const PICTURES: Record<string, SceneName> = {
  roster: 'roster',
  live: 'live',
  cue: 'live-cue',
  history: 'history',
  trial: 'trial',
  sensors: 'sensors',
};
/** Long enough for the traces to be more than a stub. */
const MOVING_MS = 5000;

const browser = await launchChromium(['--force-color-profile=srgb', '--hide-scrollbars']);
for (const [screen, viewport] of Object.entries(SCREENS)) {
  for (const colorScheme of SCHEMES) {
    const world = await startWorld();
    answerAll(world);
    const context = await browser.newContext({ viewport, colorScheme, serviceWorkers: 'block' });
    const page = await context.newPage();
    for (const [name, scene] of Object.entries(PICTURES)) {
      await showScene(page, world, scene);
      if (scene === 'live') await sway(world);
      await page.screenshot({ path: `${IMAGES}/${name}-${screen}-${colorScheme}.png`, animations: 'disabled' });
    }
    await context.close();
    await world.close();
  }
}
await browser.close();

async function sway({ now }: Awaited<ReturnType<typeof startWorld>>): Promise<void> {
  const beganMs = Date.now();
  const timer = setInterval(() => {
    const turn = ((Date.now() - beganMs) / 700) * 2 * Math.PI;
    now.obliquityDeg = 1 + 4 * Math.sin(turn);
    now.trunkTiltDeg = -1 + 3 * Math.sin(turn + 0.6);
  }, 20);
  await new Promise((done) => setTimeout(done, MOVING_MS));
  clearInterval(timer);
}
