/** Inclination error on the BROAD trials (Laidig et al. 2021, Data 6(7):72): ours, live and final, beside bare `ahrs`. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { randomAthlete, type SimulatedSession } from '../../firmware-protocol/virtual-sensor/athlete/index.ts';
import { readRecording } from '../../server/src/exchange/motion-bids-reader.ts';
import { startAhrs, stepAhrs, type AhrsChoice } from '../../server/src/motion/fuse-ahrs.ts';
import { startFusion, stepFusion } from '../../server/src/motion/fuse.ts';
import { conjugate, rotate } from '../../server/src/motion/quaternion.ts';
import { startRegularise, stepRegularise } from '../../server/src/motion/regularise.ts';
import { smoothPoses } from '../../server/src/motion/smooth.ts';
import { session, SYNTHETIC_TASKS, toRecording } from './synthetic-tasks.ts';
import type { FusedSample } from '../../server/src/motion/types.ts';

const CHOICES: AhrsChoice[] = [
  { algorithm: 'Madgwick', gain: 0.4 },
  { algorithm: 'Madgwick', gain: 0.03 },
  { algorithm: 'Madgwick', gain: 0.015 },
  { algorithm: 'Mahony', gain: 0.5 },
  { algorithm: 'Mahony', gain: 0.1 },
];

interface OrientationTruth {
  orientation: { t: number[]; q: [number, number, number, number][] };
  valid_spans: [number, number][];
}

export async function broadRows(root: string): Promise<void> {
  const names = readdirSync(root).filter((n) => n.startsWith('broad_') && !n.endsWith('.json'));
  const rows: number[][] = [];
  console.log('Inclination on BROAD, deg RMSE (goal: median 0.60, worst 1.76, half of the best bare ahrs)\n');
  console.log(`${'trial'.padEnd(46)}live   final  ${CHOICES.map((c) => `${c.algorithm} ${c.gain}`).join('  ')}`);
  for (const name of names) {
    const truth = JSON.parse(readFileSync(join(root, `${name}.truth.json`), 'utf8')) as OrientationTruth;
    const recording = await readRecording(join(root, name));
    const stream = recording.streams.pelvis!;
    const regularise = startRegularise(stream.rateHz, true);
    const grid = stream.samples.flatMap((s) => stepRegularise(regularise, s));
    const fusion = startFusion(stream.rateHz);
    const live = grid.map((s) => stepFusion(fusion, s));
    const row = [inclinationRmseDeg(live, truth), inclinationRmseDeg(smoothPoses(live, fusion, stream.rateHz), truth)];
    for (const choice of CHOICES) {
      const state = startAhrs(stream.rateHz, choice);
      row.push(
        inclinationRmseDeg(
          grid.map((s) => stepAhrs(state, s)),
          truth,
        ),
      );
    }
    rows.push(row);
    console.log(`${name.padEnd(46)}${row.map((v) => v.toFixed(2)).join('   ')}`);
  }
  const columns = rows[0]?.map((_, c) => rows.map((r) => r[c]!).sort((a, b) => a - b)) ?? [];
  console.log(`${'median'.padEnd(46)}${columns.map((v) => v[v.length >> 1]!.toFixed(2)).join('   ')}`);
  console.log(`${'worst'.padEnd(46)}${columns.map((v) => v[v.length - 1]!.toFixed(2)).join('   ')}`);
}

function inclinationRmseDeg(samples: readonly FusedSample[], truth: OrientationTruth): number {
  const { t, q } = truth.orientation;
  let k = 0;
  let sum = 0;
  let n = 0;
  for (const sample of samples) {
    while (k < t.length && t[k]! < sample.tS - 1e-4) k += 1;
    if (k >= t.length || Math.abs(t[k]! - sample.tS) > 1e-3) continue;
    if (!truth.valid_spans.some(([from, to]) => sample.tS >= from && sample.tS <= to)) continue;
    const [w, x, y, z] = q[k]!;
    const a = rotate(conjugate({ w, x, y, z }), 0, 0, 1);
    const b = rotate(conjugate(sample.orientation), 0, 0, 1);
    sum += Math.acos(Math.min(1, a[0] * b[0] + a[1] * b[1] + a[2] * b[2])) ** 2;
    n += 1;
  }
  return (Math.sqrt(sum / n) * 180) / Math.PI;
}

/**
 * The same on a synthetic run-up and a curve, where sustained acceleration looks like tilt: ours, live and final, beside bare
 * `ahrs`. Median over athletes, pelvis, realistic sensors, true mounting. Goals: 0.43 and 0.76 deg (a tenth of VQF there).
 */
export function runUpRows(): void {
  const ATHLETES = 6;
  console.log(
    '\nInclination in a synthetic run-up and a 15 m curve, deg RMSE, median of athletes, sensors with bias and soft tissue (goals, for the filter alone: 0.43, 0.76)\n',
  );
  console.log(`${'task'.padEnd(46)}live   final  ${CHOICES.map((c) => `${c.algorithm} ${c.gain}`).join('  ')}`);
  for (const task of SYNTHETIC_TASKS.filter((t) => /curve|run-up/.test(t.name))) {
    const rows: number[][] = [];
    for (let seed = 1; seed <= ATHLETES; seed += 1) {
      const simulated = session(seed, randomAthlete(seed), task.steps);
      const stream = toRecording(simulated, task.task).streams.pelvis!;
      const regularise = startRegularise(stream.rateHz, true);
      const grid = stream.samples.flatMap((s) => stepRegularise(regularise, s));
      const fusion = startFusion(stream.rateHz);
      const live = grid.map((s) => stepFusion(fusion, s));
      const row = [live, smoothPoses(live, fusion, stream.rateHz)].map((poses) => segmentRmseDeg(poses, simulated));
      for (const choice of CHOICES) {
        const state = startAhrs(stream.rateHz, choice);
        row.push(
          segmentRmseDeg(
            grid.map((s) => stepAhrs(state, s)),
            simulated,
          ),
        );
      }
      rows.push(row);
    }
    const median = rows[0]!.map((_, c) => rows.map((r) => r[c]!).sort((a, b) => a - b)[rows.length >> 1]!);
    console.log(`${task.name.padEnd(46)}${median.map((v) => v.toFixed(2)).join('   ')}`);
  }
}

/** Angle between the true vertical in segment axes and the one the poses give, within the marked bouts. */
function segmentRmseDeg(poses: readonly FusedSample[], simulated: SimulatedSession): number {
  const { angles, mounting } = simulated.truth;
  const [w, x, y, z] = mounting.pelvis;
  const spans = simulated.marks.filter((m) => m.kind.startsWith('run'));
  let k = 0;
  let sum = 0;
  let n = 0;
  for (const pose of poses) {
    if (!spans.some((m) => pose.tS >= m.startS && pose.tS <= m.endS)) continue;
    while (k < angles.t.length - 1 && angles.t[k]! < pose.tS - 1e-6) k += 1;
    const l = (angles.pelvicObliquityDeg[k]! * Math.PI) / 180;
    const f = (angles.pelvicTiltDeg[k]! * Math.PI) / 180;
    const truth = [-Math.sin(f) * Math.cos(l), Math.cos(f) * Math.cos(l), Math.sin(l)] as const;
    const seen = rotate({ w, x, y, z }, ...rotate(conjugate(pose.orientation), 0, 0, 1));
    sum += Math.acos(Math.min(1, truth[0] * seen[0] + truth[1] * seen[1] + truth[2] * seen[2])) ** 2;
    n += 1;
  }
  return (Math.sqrt(sum / n) * 180) / Math.PI;
}
