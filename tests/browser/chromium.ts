/** The Chromium of the machine, as tests and measurements of the pages start it. */
import { existsSync } from 'node:fs';
import { chromium, type Browser } from 'playwright-core';

export const CHROMIUM = ['/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'].find((path) =>
  existsSync(path),
);
const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking'];

export function launchChromium(flags: readonly string[] = []): Promise<Browser> {
  if (CHROMIUM === undefined) throw new Error('There is no Chromium in /usr/bin: install one.');
  return chromium.launch({ executablePath: CHROMIUM, args: [...FLAGS, ...flags] });
}
