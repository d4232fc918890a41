/** Runs the command as a user does, on recordings made in a temporary folder. */
import { execFile } from 'node:child_process';
import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import type { AnalysisResult } from '@ambipede/shared';
import {
  exampleAthlete,
  realistic,
  simulateSession,
  writeMotionBids,
  type SensorModel,
  type SimulatedSession,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';

const TOP = path.resolve(import.meta.dirname, '../../..');

export interface Run {
  exitCode: number;
  stdout: string;
  stderr: string;
}

/** What `npm run --silent analyse -- ARGUMENTS` does, in the top folder of the project, without the time npm takes. */
export function analyse(...args: string[]): Promise<Run> {
  return new Promise((resolve) => {
    const options = { cwd: TOP, maxBuffer: 64 * 2 ** 20 };
    const command = ['--import', 'tsx', 'server/src/analyse-command.ts', ...args];
    execFile(process.execPath, command, options, (error, stdout, stderr) =>
      resolve({ exitCode: error === null ? 0 : Number(error.code), stdout, stderr }),
    );
  });
}

/** A folder that goes away with `remove`. */
export class Workshop {
  readonly folder = mkdtempSync(path.join(tmpdir(), 'analyse-'));

  remove(): void {
    rmSync(this.folder, { recursive: true });
  }

  at(...names: string[]): string {
    return path.join(this.folder, ...names);
  }

  write(name: string, session: SimulatedSession, options: Parameters<typeof writeMotionBids>[2] = {}): string {
    writeMotionBids(session, this.at(name), options);
    return this.at(name);
  }

  /** A copy of a recording with one file changed or, by null, taken away. */
  spoil(source: string, name: string, fileEnd: string, change: (text: string) => string | null): string {
    const target = this.at(name);
    cpSync(source, target, { recursive: true });
    const file = path.join(
      target,
      readdirSync(target).find((each) => each.endsWith(fileEnd))!,
    );
    const text = change(readFileSync(file, 'utf8'));
    if (text === null) rmSync(file);
    else writeFileSync(file, text);
    return target;
  }

  async result(recording: string): Promise<{ run: Run; result: AnalysisResult }> {
    const out = `${recording}.result.json`;
    const run = await analyse(recording, '--out', out);
    if (run.exitCode !== 0) throw new Error(`exit code ${run.exitCode}: ${run.stderr}`);
    return { run, result: JSON.parse(readFileSync(out, 'utf8')) as AnalysisResult };
  }
}

/** Lead-in and a short run of an athlete with known one-sidedness: drop 8 deg on the left foot, 4 deg on the right. */
export function shortRun(sternum: Partial<SensorModel> | null = {}): SimulatedSession {
  const rateHz = 100;
  return simulateSession({
    seed: 2,
    athlete: exampleAthlete(2),
    sensors: {
      pelvis: realistic('pelvis', 2, { rateHz }),
      ...(sternum === null ? {} : { sternum: realistic('sternum', 3, { rateHz, ...sternum }) }),
    },
    script: [
      { kind: 'pause', seconds: 1 },
      { kind: 'reference_stand', seconds: 5 },
      { kind: 'forward_bow', seconds: 9 },
      { kind: 'pause', seconds: 2 },
      { kind: 'run', seconds: 12, cadencePerMin: 170, speedMps: 3.3 },
      { kind: 'pause', seconds: 3 },
    ],
  });
}
