import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import {
  exampleAthlete,
  ideal,
  simulateSession,
  writeMotionBids,
  type SensorModel,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';

const made: string[] = [];
afterEach(() => made.splice(0).forEach((folder) => rmSync(folder, { recursive: true })));

function write(sternum: Partial<SensorModel>) {
  const parent = mkdtempSync(join(tmpdir(), 'synthetic-'));
  made.push(parent);
  const session = simulateSession({
    seed: 1,
    athlete: exampleAthlete(1),
    script: [
      { kind: 'reference_stand', seconds: 2 },
      { kind: 'walk', seconds: 6, cadencePerMin: 100 },
    ],
    sensors: { pelvis: ideal('pelvis', { rateHz: 100 }), sternum: ideal('sternum', { rateHz: 100, ...sternum }) },
  });
  const folder = join(parent, 'walk_1');
  writeMotionBids(session, folder);
  const files = readdirSync(folder).sort();
  const read = (end: string) =>
    readFileSync(
      join(
        folder,
        files.find((f) => f.endsWith(end))!,
      ),
      'utf8',
    );
  const rows = (end: string) =>
    read(end)
      .trimEnd()
      .split('\n')
      .map((line) => line.split('\t'));
  const truth = JSON.parse(readFileSync(join(parent, 'walk_1.truth.json'), 'utf8'));
  return { session, files, rows, read, truth };
}

// Rules of the Motion-BIDS specification (bids-standard/bids-specification, motion.md).
describe('the Motion-BIDS folder of a synthetic session', () => {
  it('is one tracking system when the clocks are shared, with as many columns as channels and no header', () => {
    const { session, files, rows, read } = write({});
    expect(files.filter((f) => f.endsWith('_motion.tsv'))).toHaveLength(1);
    const channels = rows('_channels.tsv');
    expect(channels[0]).toEqual(['name', 'component', 'type', 'tracked_point', 'units']);
    const data = rows('_motion.tsv');
    expect(data).toHaveLength(session.streams.pelvis.tS.length);
    for (const row of data) expect(row).toHaveLength(channels.length - 1);
    const column = channels.findIndex((c) => c[0] === 'sternum_gyro_y') - 1;
    expect(Number(data[500]![column])).toBeCloseTo(session.streams.sternum!.gy[500]!, 5);
    expect(JSON.parse(read('_motion.json'))).toMatchObject({ TaskName: 'walk', SamplingFrequency: 100 });
    expect(rows('_events.tsv')[1]).toEqual(['0.000', '2.000', 'reference_stand']);
  });

  it('is one system per sensor when the clocks differ; start plus latency is the same instant for both', () => {
    const { session, files, rows, truth } = write({ clock: { offsetS: 3.25, skewPpm: 0, phaseS: 0.004 } });
    expect(files.filter((f) => f.endsWith('_motion.tsv'))).toHaveLength(2);
    const scans = rows('_scans.tsv').slice(1);
    const instant = (end: string) => {
      const scan = scans.find((s) => s[0]!.endsWith(end))!;
      return Date.parse(`${scan[1]}Z`) + 1000 * Number(rows(end)[0]![0]);
    };
    expect(instant('imuSternum_motion.tsv') - instant('imuPelvis_motion.tsv')).toBeCloseTo(4, 3);
    expect(truth.clock.sternumOffsetS).toBeCloseTo(3.25, 9);
    expect(truth.contacts).toEqual(session.truth.contacts);
    expect(truth.valid_spans).toHaveLength(1);
    expect(truth.angles.t).toHaveLength(truth.angles.pelvicObliquityDeg.length);
  });

  it('leaves out the rows of lost packets', () => {
    const { session, rows } = write({ loss: { share: 0.1, burstPackets: 1, samplesPerPacket: 5 } });
    const sternum = rows('imuSternum_motion.tsv');
    expect(sternum).toHaveLength(session.streams.sternum!.tS.length);
    expect(sternum.length).toBeLessThan(session.streams.pelvis.tS.length);
  });
});
