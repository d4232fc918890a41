/** A page against the rules of WCAG 2.2 A and AA that a program can check. */
import { createRequire } from 'node:module';
import type axe from 'axe-core';
import type { Page } from 'playwright-core';

const AXE = createRequire(import.meta.url).resolve('axe-core/axe.min.js');
const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];

/** One line each: rule, element, what is wrong. */
export async function violationsOf(page: Page): Promise<string[]> {
  await page.addScriptTag({ path: AXE });
  const found = await page.evaluate(async (values) => {
    const { axe: checker } = window as unknown as { axe: typeof axe };
    return (await checker.run(document, { runOnly: { type: 'tag', values } })).violations;
  }, TAGS);
  return found.flatMap(({ id, nodes }) =>
    nodes.map(({ target, failureSummary }) => `${id}: ${String(target)} ${failureSummary?.split('\n')[1]?.trim()}`),
  );
}
