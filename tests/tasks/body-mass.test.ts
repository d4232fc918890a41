/** Body mass from participants.tsv, and the forces that it makes known, against the simulated force under the foot. */
import { mkdirSync, mkdtempSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  writeMotionBids,
  type ScriptStep,
  type SimulatedSession,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { analyseRecording } from '../../server/src/analysis.ts';
import { readRecording } from '../../server/src/exchange/motion-bids-reader.ts';
import { BODY_MASS, readBodyMassKg } from '../../server/src/exchange/participants.ts';
import { sessionOf } from './recordings.ts';

let root: string;
beforeAll(() => {
  root = mkdtempSync(join(tmpdir(), 'body-mass-'));
});
afterAll(() => rmSync(root, { recursive: true }));

const RUN: ScriptStep = { kind: 'run', seconds: 20, cadencePerMin: 165, speedMps: 3.2 };
const mean = (values: number[]): number => values.reduce((a, b) => a + b, 0) / values.length;

/**
 * The sine-wave method is 0.67 to 6.93 % below a force plate (Morin et al. 2005, J Appl Biomech 21:167-180). To that comes the
 * time measured: a contact of 250 ms known to 10 ms, which takes from or gives to the flight, changes the peak force by
 * 4 % and the stiffness, which goes with one over the contact time squared, by 8 %.
 */
const FORCE = [-0.0693 - 0.04, 0.04] as const;
const STIFFNESS = [-0.0693 - 0.08, 0.08] as const;

describe('a run with the body mass known', () => {
  it.each([1, 2, 3, 4])('has peak force and vertical stiffness as the ground gave them (seed %d)', async (seed) => {
    const session: SimulatedSession = sessionOf(seed, [RUN], 'realistic');
    const folder = join(root, `run_${seed}`);
    writeMotionBids(session, folder);
    const recording = await readRecording(folder);
    expect(Math.abs(recording.bodyMassKg! - session.truth.bodyMassKg)).toBeLessThan(0.051);
    const truth = session.truth.stances.filter((s) => s.steady);
    const [from, to] = [truth[0]!.initialContact, truth.at(-1)!.toeOff];
    const found = analyseRecording(recording).stances.filter(
      (s) => s.initialContact > from - 0.05 && s.toeOff < to + 0.05 && s.peakForceN !== null,
    );
    expect(found.length).toBeGreaterThan(0.8 * truth.length);
    const force = mean(found.map((s) => s.peakForceN!)) / mean(truth.map((s) => s.peakForceN)) - 1;
    expect(force).toBeGreaterThan(FORCE[0]);
    expect(force).toBeLessThan(FORCE[1]);
    const stiffness =
      mean(found.map((s) => s.verticalStiffnessNPerM!)) / mean(truth.map((s) => s.peakForceN / s.sinkingM)) - 1;
    expect(stiffness).toBeGreaterThan(STIFFNESS[0]);
    expect(stiffness).toBeLessThan(STIFFNESS[1]);
  });

  it('has none of both without the table', async () => {
    const folder = join(root, 'nobody');
    writeMotionBids(sessionOf(5, [RUN], 'ideal'), folder);
    renameSync(join(folder, 'participants.tsv'), join(folder, 'unused.txt'));
    const recording = await readRecording(folder);
    expect(recording.bodyMassKg).toBeNull();
    expect(analyseRecording(recording).stances.every((s) => s.peakForceN === null)).toBe(true);
  });
});

// Where the table lies and what it looks like: BIDS specification, Modality agnostic files; `weight` is common practice.
describe('the table of participants', () => {
  const MOTION = 'sub-07_task-run_tracksys-imu_motion.tsv';
  let made = 0;
  function dataset(table: string, sidecar?: string): { top: string; motion: string } {
    made += 1;
    const top = join(root, `set_${made}`);
    const motion = join(top, 'sub-07', 'ses-1', 'motion');
    mkdirSync(motion, { recursive: true });
    writeFileSync(join(top, 'dataset_description.json'), '{}');
    writeFileSync(join(top, 'participants.tsv'), table);
    if (sidecar !== undefined) writeFileSync(join(top, 'participants.json'), sidecar);
    return { top, motion };
  }

  it('is found at the root of the dataset, above the recording', async () => {
    const { motion } = dataset('participant_id\tage\tweight\nsub-06\t20\t80\nsub-07\t21\t62.5\n');
    expect(await readBodyMassKg(motion, MOTION)).toBe(62.5);
  });

  it('is not looked for above the root', async () => {
    const { top } = dataset('participant_id\tweight\nsub-07\t62.5\n');
    const inner = join(top, 'inner');
    mkdirSync(inner);
    writeFileSync(join(inner, 'dataset_description.json'), '{}');
    expect(await readBodyMassKg(inner, MOTION)).toBeNull();
  });

  it('gives nobody the mass of another', async () => {
    const { motion } = dataset('participant_id\tweight\nsub-7\t80\nsub-070\t81\n');
    expect(await readBodyMassKg(motion, MOTION)).toBeNull();
  });

  it('may say n/a, or have no such column', async () => {
    expect(await readBodyMassKg(dataset('participant_id\tweight\nsub-07\tn/a\n').motion, MOTION)).toBeNull();
    expect(await readBodyMassKg(dataset('participant_id\tage\nsub-07\t20\n').motion, MOTION)).toBeNull();
  });

  it('names its unit in participants.json', async () => {
    const table = 'participant_id\tweight\nsub-07\t150\n';
    const pounds = dataset(table, '{"weight": {"Units": "lb"}}');
    // The international pound, 0.45359237 kg exactly (agreement of 1959).
    expect(await readBodyMassKg(pounds.motion, MOTION)).toBeCloseTo(68.0388555, 9);
    const stones = dataset(table, '{"weight": {"Units": "stone"}}');
    await expect(readBodyMassKg(stones.motion, MOTION)).rejects.toThrow(/Write it in kg, or name the unit/);
    await expect(readBodyMassKg(dataset(table, '{').motion, MOTION)).rejects.toThrow(/not valid JSON/);
  });

  it.each([
    [BODY_MASS.kgMin, true],
    [BODY_MASS.kgMin - 0.1, false],
    [BODY_MASS.kgMax, true],
    [BODY_MASS.kgMax + 0.1, false],
    ['heavy', false],
  ])('with the weight %s is taken: %s', async (weight, isTaken) => {
    const read = readBodyMassKg(dataset(`participant_id\tweight\nsub-07\t${weight}\n`).motion, MOTION);
    if (isTaken) expect(await read).toBe(weight);
    else await expect(read).rejects.toThrow(/participants.tsv gives sub-07 the weight/);
  });

  it('has one row for each person', async () => {
    const { motion } = dataset('participant_id\tweight\nsub-07\t60\nsub-07\t61\n');
    await expect(readBodyMassKg(motion, MOTION)).rejects.toThrow(/2 rows for sub-07: keep one/);
  });
});
