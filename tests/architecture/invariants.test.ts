/** The invariants of the design, checked on every file of the project (`npm run check`). */
import { describe, expect, it } from 'vitest';
import { RULES } from './rules.ts';
import { readSourceFiles } from './source-files.ts';

const files = readSourceFiles();

describe('the project', () => {
  it('is read: stages, protocol and dashboard are among the files', () => {
    const paths = files.map((file) => file.path);
    for (const known of ['server/src/motion/fuse.ts', 'firmware-protocol/src/layout.ts', 'web/src/App.svelte']) {
      expect(paths).toContain(known);
    }
  });

  for (const rule of Object.values(RULES)) {
    it(`keeps the rule: ${rule.name}`, () => expect(rule.violations(files)).toEqual([]));
  }
});
