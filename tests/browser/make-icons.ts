/** `npm run icons`: draws web/public/icon-*.png from plumb.svg. Run it when the sign changes; the files are committed. */
import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { launchChromium } from './chromium.ts';

const PUBLIC = new URL('../../web/public/', import.meta.url);
/** A maskable icon may be cut to a circle of 80 % of its width (W3C, Web Application Manifest, "Icon masks and safe zone"). */
const SAFE_ZONE = 0.8;
/** The corners of the square sign touch such a circle at this part of its diameter. */
const SQUARE_IN_CIRCLE = Math.SQRT1_2;

const ICONS = [
  { name: 'icon-180.png', px: 180, part: 0.86 },
  { name: 'icon-192.png', px: 192, part: 1 },
  { name: 'icon-512.png', px: 512, part: 1 },
  { name: 'icon-maskable-512.png', px: 512, part: SAFE_ZONE * SQUARE_IN_CIRCLE },
];

const svg = await readFile(new URL('plumb.svg', PUBLIC), 'utf8');
const browser = await launchChromium();
for (const { name, px, part } of ICONS) {
  const page = await browser.newPage({ viewport: { width: px, height: px } });
  const style = `margin:0;height:100vh;display:grid;place-items:center;background:#fff`;
  await page.setContent(
    `<body style="${style}">${svg.replace('<svg', `<svg width="${px * part}" height="${px * part}"`)}`,
  );
  await page.screenshot({ path: fileURLToPath(new URL(name, PUBLIC)) });
  await page.close();
}
await browser.close();
