/** The invariants of the design as rules over files. A rule says what is wrong, one line each; none when all is well. */
import { importsOf, isCode, targetOf, withoutComments, type SourceFile } from './source-files.ts';

export interface Rule {
  name: string;
  violations(files: readonly SourceFile[]): string[];
}

/** Stages and the wiring that live view, re-analysis, `analyse` and tests share. */
const PURE =
  /^server\/src\/((motion|stance|tasks|asymmetry|history|signal)\/|(pipeline|body-pipeline|analysis|result)\.ts$)/;
const PURE_PACKAGES = ['@ambipede/shared', 'ahrs', 'mathjs'];
const IMPURE_CALLS =
  /\b(Date\.now|new Date\b|performance\.|process\.|Math\.random|setTimeout|setInterval|setImmediate|fetch\(|console\.|globalThis)/g;

const pureImports = importRule(
  'stages import other stages, shared, ahrs and mathjs, and nothing else: no server, socket, database, file or clock',
  (file) => PURE.test(file.path) && !isTest(file),
  (target) => PURE.test(target) || PURE_PACKAGES.includes(target),
);

const pureCalls: Rule = {
  name: 'stages read no clock, no environment and no chance, and print nothing',
  violations: (files) =>
    files
      .filter((file) => PURE.test(file.path) && !isTest(file))
      .flatMap((file) =>
        [...withoutComments(file.text).matchAll(IMPURE_CALLS)].map((match) => `${file.path} uses ${match[1]}`),
      ),
};

const sharedAlone = importRule(
  'shared imports no other workspace',
  (file) => file.path.startsWith('shared/'),
  (target) => target.startsWith('shared/') || target === 'typebox',
);

const webApart = importRule(
  'web never imports server or firmware-protocol',
  (file) => file.path.startsWith('web/'),
  (target) => !reaches(target, 'server') && !reaches(target, 'firmware-protocol'),
);

const protocolApart = importRule(
  'firmware-protocol never imports server or web',
  (file) => file.path.startsWith('firmware-protocol/'),
  (target) => !reaches(target, 'server') && !reaches(target, 'web'),
);

const chartsOnly = importRule(
  'only web/src/charts imports uplot',
  (file) => !file.path.startsWith('web/src/charts/') && !isTest(file),
  (target) => !/^uplot(\/|$)/i.test(target),
);

const oneEnvironment: Rule = {
  name: 'only server/src/config.ts reads process.env',
  violations: (files) =>
    files
      .filter((file) => isCode(file) && !isTest(file) && !/(^|\/)[\w-]+\.config\.(ts|js)$/.test(file.path))
      .filter((file) => file.path !== 'server/src/config.ts')
      .filter((file) =>
        /\bprocess\s*(\??\.\s*env\b|\[)|\{[^}]*\benv\b[^}]*\}\s*=\s*process\b/.test(withoutComments(file.text)),
      )
      .map((file) => `${file.path} reads process.env`),
};

/** Put together from parts, so that this file does not break its own rule. */
const MACHINE_PATH = new RegExp(String.raw`(?<![\w.\-/])/(?:${['work', 'root', 'home'].join('|')})/[\w.]`);

const noMachinePaths: Rule = {
  name: 'no file holds an absolute path of one machine',
  violations: (files) =>
    files.flatMap((file) =>
      file.text
        .split('\n')
        .flatMap((line, i) => (MACHINE_PATH.test(line) ? [`${file.path}:${i + 1} holds an absolute path`] : [])),
    ),
};

const MIGRATIONS = 'server/src/store/migrations/';

const namedMigrations: Rule = {
  name: 'every migration has a name of its own, words joined by hyphens, and is in the journal',
  violations: (files) => {
    const journal = files.find((file) => file.path === `${MIGRATIONS}meta/_journal.json`);
    return files
      .filter((file) => file.path.startsWith(MIGRATIONS) && file.path.endsWith('.sql'))
      .flatMap((file) => {
        const tag = file.path.slice(MIGRATIONS.length, -'.sql'.length);
        // A name made up by the tool has an underscore between its two words.
        if (!/^\d{4}_[a-z0-9]+(-[a-z0-9]+)*$/.test(tag)) return [`${file.path} is not named: 0001_what-it-does.sql`];
        return journal?.text.includes(`"${tag}"`) ? [] : [`${file.path} is not in meta/_journal.json`];
      });
  },
};

export const LINES_MAX = 250;

/** Files that stay whole although they are longer, each with why. Keep it short. */
export const LONG_FILES: Record<string, string> = {
  'firmware-protocol/virtual-sensor/athlete/ground-force.ts': 'one model of the force under a foot',
  'firmware-protocol/virtual-sensor/athlete/plan.ts': 'one plan of a bout, from the first step to standing again',
  'firmware-protocol/virtual-sensor/athlete/sensor.ts': 'one model of a sensor with all its errors',
  'tests/cases/protocol/connection.test.ts': 'one list of the mistakes that a device can make',
};

export function fileLength(exceptions: Record<string, string>): Rule {
  return {
    name: `code files have at most ${LINES_MAX} lines, but for the named exceptions`,
    violations: (files) => {
      const long = files.filter((file) => isCode(file) && lines(file) > LINES_MAX);
      const stale = Object.keys(exceptions).filter((name) => !long.some((file) => file.path === name));
      return [
        ...long
          .filter((file) => exceptions[file.path] === undefined)
          .map((file) => `${file.path} has ${lines(file)} lines: split it`),
        ...stale.map((name) => `${name} is no longer too long: take it off the exceptions`),
      ];
    },
  };
}

function lines(file: SourceFile): number {
  return file.text.replace(/\n$/, '').split('\n').length;
}

function isTest(file: SourceFile): boolean {
  return file.path.startsWith('tests/') || file.path.endsWith('.test.ts');
}

function reaches(target: string, workspace: string): boolean {
  return target.startsWith(`${workspace}/`) || target.startsWith(`@ambipede/${workspace}`);
}

function importRule(
  name: string,
  appliesTo: (file: SourceFile) => boolean,
  isAllowed: (target: string) => boolean,
): Rule {
  return {
    name,
    violations: (files) =>
      files
        .filter((file) => isCode(file) && appliesTo(file))
        .flatMap((file) =>
          importsOf(file)
            .filter((specifier) => !isAllowed(targetOf(file, specifier)))
            .map((specifier) => `${file.path} imports ${specifier}`),
        ),
  };
}

export const RULES = {
  pureImports,
  pureCalls,
  sharedAlone,
  webApart,
  protocolApart,
  chartsOnly,
  oneEnvironment,
  noMachinePaths,
  namedMigrations,
  fileLength: fileLength(LONG_FILES),
} satisfies Record<string, Rule>;
