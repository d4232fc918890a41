/** Each rule must catch a made-up violation and let a made-up good file pass. */
import { describe, expect, it } from 'vitest';
import { fileLength, LINES_MAX, RULES } from './rules.ts';

type RuleName = keyof typeof RULES;

const MACHINE = ['', 'home', 'someone', 'project'].join('/');
const JOURNAL = {
  path: 'server/src/store/migrations/meta/_journal.json',
  text: '{"entries":[{"tag":"0001_stance-kinds"},{"tag":"0002_loud_tiger"}]}',
};

const BAD: Record<Exclude<RuleName, 'fileLength'>, { path: string; text: string }[]> = {
  pureImports: [
    { path: 'server/src/motion/a.ts', text: `import fastify from 'fastify';` },
    { path: 'server/src/stance/a.ts', text: `import { readFile } from 'node:fs/promises';` },
    { path: 'server/src/signal/a.ts', text: `import fs from "fs";` },
    { path: 'server/src/tasks/a.ts', text: `import { openStore } from '../store/open-store.ts';` },
    { path: 'server/src/asymmetry/a.ts', text: `import postgres from 'postgres';` },
    { path: 'server/src/asymmetry/b.ts', text: `export { sql } from 'drizzle-orm';` },
    { path: 'server/src/stance/sub/a.ts', text: `import { openStore } from '../../store/open-store.ts';` },
    { path: 'server/src/pipeline.ts', text: `const { WebSocket } = await import('ws');` },
    { path: 'server/src/analysis.ts', text: `import {\n  readRecording,\n} from './exchange/motion-bids-reader.ts';` },
  ],
  pureCalls: [
    { path: 'server/src/motion/a.ts', text: 'const now = Date.now();' },
    { path: 'server/src/motion/b.ts', text: 'const now = new Date();' },
    { path: 'server/src/stance/a.ts', text: 'const t = performance.now();' },
    { path: 'server/src/signal/a.ts', text: `if (process.env['X']) {}` },
    { path: 'server/src/asymmetry/a.ts', text: 'const r = Math.random();' },
    { path: 'server/src/body-pipeline.ts', text: `console.log('step');` },
  ],
  sharedAlone: [
    { path: 'shared/src/a.ts', text: `import { layout } from '@ambipede/firmware-protocol';` },
    { path: 'shared/src/b.ts', text: `import type { X } from '../../server/src/pipeline.ts';` },
    { path: 'shared/src/c.ts', text: `import path from 'node:path';` },
  ],
  webApart: [
    { path: 'web/src/A.svelte', text: `<script>import { x } from '../../server/src/pipeline.ts';</script>` },
    { path: 'web/src/a.ts', text: `import type { X } from '@ambipede/server';` },
    { path: 'web/src/b.ts', text: `const p = import('@ambipede/firmware-protocol');` },
  ],
  protocolApart: [
    { path: 'firmware-protocol/src/a.ts', text: `import { x } from '@ambipede/server';` },
    { path: 'firmware-protocol/virtual-sensor/a.ts', text: `import { x } from '../../server/src/motion/fuse.ts';` },
  ],
  chartsOnly: [
    { path: 'web/src/live/A.svelte', text: `<script>import uPlot from 'uplot';</script>` },
    { path: 'web/src/main.ts', text: `import 'uplot/dist/uPlot.min.css';` },
  ],
  oneEnvironment: [
    { path: 'server/src/main.ts', text: `const port = process.env.PORT;` },
    { path: 'server/src/store/a.ts', text: `const url = process.env['DATABASE_URL'];` },
    { path: 'firmware-protocol/src/a.ts', text: `const { env } = process;` },
  ],
  noMachinePaths: [
    { path: 'docs/a.md', text: `Run it in ${MACHINE}.` },
    { path: 'server/src/a.ts', text: `const dir = '${MACHINE}';` },
  ],
  namedMigrations: [JOURNAL, { path: 'server/src/store/migrations/0002_loud_tiger.sql', text: '' }],
};

const GOOD: Record<Exclude<RuleName, 'fileLength'>, { path: string; text: string }[]> = {
  pureImports: [
    { path: 'server/src/motion/a.ts', text: `import { AHRS } from 'ahrs';\nimport { b } from './b.ts';` },
    { path: 'server/src/stance/a.ts', text: `/* import fastify from 'fastify' is not for stages */` },
    { path: 'server/src/ingest/a.ts', text: `import { WebSocketServer } from 'ws';` },
  ],
  pureCalls: [
    { path: 'server/src/motion/a.ts', text: `// never Date.now()\nconst note = 'no chance'; /* Math.random */` },
    { path: 'server/src/ingest/clock.ts', text: 'const now = Date.now();' },
  ],
  sharedAlone: [{ path: 'shared/src/a.ts', text: `import { Type } from 'typebox';\nexport * from './b.ts';` }],
  webApart: [{ path: 'web/src/a.ts', text: `import { METRICS } from '@ambipede/shared';` }],
  protocolApart: [{ path: 'firmware-protocol/src/a.ts', text: `import { SIDES } from '@ambipede/shared';` }],
  chartsOnly: [{ path: 'web/src/charts/a.ts', text: `import uPlot from 'uplot';` }],
  oneEnvironment: [
    { path: 'server/src/config.ts', text: `const port = process.env['PORT'];` },
    { path: 'tests/integration/a.ts', text: `const url = process.env['DATABASE_URL'];` },
    { path: 'web/vite.config.ts', text: `const port = process.env['PORT'];` },
    { path: 'server/src/main.ts', text: `process.exitCode = 1; // not process.env` },
  ],
  noMachinePaths: [{ path: 'docs/a.md', text: 'See https://example.org/home/page and server/work/a and ~/data.' }],
  namedMigrations: [JOURNAL, { path: 'server/src/store/migrations/0001_stance-kinds.sql', text: '' }],
};

describe('each rule', () => {
  for (const [name, files] of Object.entries(BAD)) {
    const rule = RULES[name as RuleName];
    const isListed = (path: string): boolean => path.endsWith('.json');
    it.each(files.filter((file) => !isListed(file.path)))(`catches a violation of ${name}: $path`, (file) => {
      const context = files.filter((other) => isListed(other.path));
      expect(rule.violations([...context, file]).join()).toContain(file.path);
    });
  }

  for (const [name, files] of Object.entries(GOOD)) {
    it(`lets good files pass: ${name}`, () => expect(RULES[name as RuleName].violations(files)).toEqual([]));
  }

  it('catches a migration that the journal does not know', () => {
    const file = { path: 'server/src/store/migrations/0003_pain-notes.sql', text: '' };
    expect(RULES.namedMigrations.violations([JOURNAL, file])).toEqual([expect.stringContaining('_journal.json')]);
  });
});

describe('the rule of file length', () => {
  const file = (lines: number) => ({ path: 'server/src/a.ts', text: 'x;\n'.repeat(lines) });

  it(`takes ${LINES_MAX} lines and no more`, () => {
    expect(fileLength({}).violations([file(LINES_MAX)])).toEqual([]);
    expect(fileLength({}).violations([file(LINES_MAX + 1)])).toEqual([expect.stringContaining('251 lines')]);
  });

  it('lets a named exception pass, and complains of one that is no longer needed', () => {
    expect(fileLength({ 'server/src/a.ts': 'why' }).violations([file(300)])).toEqual([]);
    expect(fileLength({ 'server/src/a.ts': 'why' }).violations([file(10)])).toHaveLength(1);
  });
});
