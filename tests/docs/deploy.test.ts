/** The unit and the container file start what `npm start` starts, with settings that there are. */
import { existsSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const text = (file: string): string => readFileSync(path.join(ROOT, file), 'utf8');
const { scripts, engines, workspaces } = JSON.parse(text('package.json')) as {
  scripts: Record<string, string>;
  engines: { node: string };
  workspaces: string[];
};
const unit = text('docs/deploy/ambipede.service');
const container = text('docs/deploy/Containerfile');
const settings = [...text('server/src/config.ts').matchAll(/env\['([A-Z_]+)'\]/g)].map(([, name]) => name!);

describe('the unit of systemd', () => {
  test('starts what npm start starts', () => {
    const [, command] = /^ExecStart=\/usr\/bin\/(.+)$/m.exec(unit)!;
    expect(command).toBe(scripts['start']);
    expect(existsSync(path.join(ROOT, command!.split(' ').at(-1)!))).toBe(true);
  });

  test('sets what the server reads, into the folder that systemd makes for it', () => {
    const set = [...unit.matchAll(/^Environment=([A-Z_]+)=(.*)$/gm)].map(([, name, value]) => [name, value]);
    expect(set).toEqual([['DATA_DIR', '/var/lib/ambipede']]);
    expect(unit).toMatch(/^StateDirectory=ambipede$/m);
    expect(settings).toContain('DATA_DIR');
  });

  test('does not run as root', () => {
    expect(unit).toMatch(/^User=ambipede$/m);
    expect(unit).toMatch(/^NoNewPrivileges=yes$/m);
  });
});

describe('the container file', () => {
  test('starts what npm start starts, as somebody who is not root', () => {
    const [, command] = /^CMD (\[.+\])$/m.exec(container)!;
    expect((JSON.parse(command!) as string[]).join(' ')).toBe(scripts['start']);
    expect(container.indexOf('\nUSER node')).toBeGreaterThan(0);
    expect(container.indexOf('\nUSER node')).toBeLessThan(container.indexOf('\nCMD '));
  });

  test('has a Node that the server runs on', () => {
    const [, major] = /^FROM \S+\/node:(\d+)/m.exec(container)!;
    expect(Number(major)).toBeGreaterThanOrEqual(Number(/\d+/.exec(engines.node)![0]));
  });

  test('copies the package file of every workspace, and sets what the server reads', () => {
    for (const folder of workspaces) expect(container).toContain(`COPY ${folder}/package.json ${folder}/`);
    const [, line] = /^ENV (.+)$/m.exec(container)!;
    const names = line!.split(' ').map((pair) => pair.split('=')[0]!);
    expect(names.filter((name) => !settings.includes(name))).toEqual([]);
  });
});
