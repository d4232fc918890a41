/** The few kills that a test run can afford; `tests/bench/faults.ts` does a hundred. */
import { beforeAll, describe, expect, test } from 'vitest';
import { runKills, type KillRun } from './server-kills.ts';

const KILLS = 5;

let run: KillRun;
beforeAll(async () => {
  run = await runKills({ kills: KILLS, seed: 20, postgresEvery: 3 });
}, 240_000);

describe(`a server that is killed ${KILLS} times at chance moments`, () => {
  test('loses no sample and changes none, also when PostgreSQL dies with it', () => {
    expect(run).toMatchObject({ tried: KILLS, postgresKills: 1, lost: 0 });
    expect(run.acknowledged).toBeGreaterThan(KILLS * 100);
  });

  test('keeps a second server off its folder, which says why and ends', () => {
    expect(run.second.exitCode).toBe(1);
    expect(run.second.output).toMatch(/already uses the data folder .*Stop that one first/);
  });
});
