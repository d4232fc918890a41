/**
 * Writes a simulated session as a recording folder in the Motion-BIDS layout, with `<name>.truth.json` beside it.
 * Sensors on one clock that lost the same samples make one tracking system; else there is one per sensor, each with its
 * own LATENCY channel, and the zero of each clock in `*_scans.tsv`.
 */
import { mkdirSync, writeFileSync } from 'node:fs';
import { basename, dirname, join, resolve } from 'node:path';
import type { SimulatedSession } from './session.ts';
import type { Columns, SensorPlace } from './sensor.ts';

/** Start of every simulated session; any fixed instant does, so that the same seed gives the same bytes. */
const SESSION_START_UTC_MS = Date.UTC(2030, 0, 1, 9, 0, 0);
const POINT: Record<SensorPlace, string> = { pelvis: 'Pelvis', sternum: 'Sternum' };

interface TrackingSystem {
  label: string;
  sensors: [SensorPlace, Columns][];
  rateHz: number;
}

export interface WriteOptions {
  /** Names the recording; default: the last mark. */
  task?: string;
  /** How wrong the sternum's start time in `*_scans.tsv` is, as after a rough synchronisation. Seconds; default 0. */
  startErrorS?: number;
}

/** `folder` is made; files in it of the same name are replaced. LATENCY, events and truth keep the sensors' own clocks. */
export function writeMotionBids(session: SimulatedSession, folder: string, options: WriteOptions = {}): void {
  const task = options.task ?? lastTask(session);
  mkdirSync(folder, { recursive: true });
  const stem = `sub-synthetic_task-${task.replace(/[^a-zA-Z0-9]/g, '')}`;
  const systems = trackingSystems(session);
  for (const system of systems) {
    const base = join(folder, `${stem}_tracksys-${system.label}`);
    writeFileSync(`${base}_motion.tsv`, motionRows(system));
    writeFileSync(`${base}_channels.tsv`, channelRows(system));
    writeFileSync(`${base}_motion.json`, sidecar(system, task));
  }
  const scans = systems.map((system) => {
    // Zero of the sensor's clock, so that start + LATENCY is the same instant for both (but for the skew).
    const place = system.sensors[0]![0];
    const offsetS = session.sensors[place]!.clock.offsetS - (place === 'sternum' ? (options.startErrorS ?? 0) : 0);
    const startUtcMs = SESSION_START_UTC_MS - Math.round(1000 * offsetS);
    return `${stem}_tracksys-${system.label}_motion.tsv\t${new Date(startUtcMs).toISOString().replace('Z', '')}`;
  });
  writeFileSync(join(folder, 'sub-synthetic_scans.tsv'), ['filename\tacq_time', ...scans, ''].join('\n'));
  writeFileSync(join(folder, `${stem}_events.tsv`), eventRows(session));
  writeFileSync(
    join(folder, 'participants.tsv'),
    `participant_id\tweight\nsub-synthetic\t${session.truth.bodyMassKg.toFixed(1)}\n`,
  );
  const weight = { Description: 'Body mass', Units: 'kg' };
  writeFileSync(join(folder, 'participants.json'), JSON.stringify({ weight }, null, 1) + '\n');
  const name = basename(resolve(folder));
  writeFileSync(join(dirname(resolve(folder)), `${name}.truth.json`), JSON.stringify(truthJson(session)));
}

function lastTask(session: SimulatedSession): string {
  return session.marks.at(-1)?.kind ?? 'stand';
}

function trackingSystems(session: SimulatedSession): TrackingSystem[] {
  const { pelvis, sternum } = session.streams;
  const { sensors } = session;
  if (sternum === undefined || sensors.sternum === undefined) {
    return [{ label: 'imu', sensors: [['pelvis', pelvis]], rateHz: sensors.pelvis.rateHz }];
  }
  const shared = pelvis.tS.length === sternum.tS.length && pelvis.tS.every((t, k) => t === sternum.tS[k]);
  if (shared) {
    const both: [SensorPlace, Columns][] = [
      ['pelvis', pelvis],
      ['sternum', sternum],
    ];
    return [{ label: 'imu', sensors: both, rateHz: sensors.pelvis.rateHz }];
  }
  return [
    { label: 'imuPelvis', sensors: [['pelvis', pelvis]], rateHz: sensors.pelvis.rateHz },
    { label: 'imuSternum', sensors: [['sternum', sternum]], rateHz: sensors.sternum.rateHz },
  ];
}

function motionRows(system: TrackingSystem): string {
  const time = system.sensors[0]![1].tS;
  const rows: string[] = [];
  for (let k = 0; k < time.length; k++) {
    let row = time[k]!.toFixed(6);
    for (const [, c] of system.sensors) {
      for (const value of [c.ax[k]!, c.ay[k]!, c.az[k]!]) row += `\t${value.toFixed(5)}`;
      for (const value of [c.gx[k]!, c.gy[k]!, c.gz[k]!]) row += `\t${value.toFixed(6)}`;
    }
    rows.push(row);
  }
  return rows.join('\n') + '\n';
}

function channelRows(system: TrackingSystem): string {
  const rows = ['name\tcomponent\ttype\ttracked_point\tunits', 'latency\tn/a\tLATENCY\tn/a\ts'];
  for (const [place] of system.sensors) {
    for (const axis of 'xyz') rows.push(`${place}_accel_${axis}\t${axis}\tACCEL\t${POINT[place]}\tm/s^2`);
    for (const axis of 'xyz') rows.push(`${place}_gyro_${axis}\t${axis}\tGYRO\t${POINT[place]}\trad/s`);
  }
  return rows.join('\n') + '\n';
}

function sidecar(system: TrackingSystem, task: string): string {
  const fields = {
    TaskName: task,
    SamplingFrequency: system.rateHz,
    TrackingSystemName: system.label,
    Note: 'Synthetic: simulated from ground reaction forces. No person was measured.',
  };
  return JSON.stringify(fields, null, 1) + '\n';
}

function eventRows(session: SimulatedSession): string {
  const rows = session.marks.map((m) => `${m.startS.toFixed(3)}\t${(m.endS - m.startS).toFixed(3)}\t${m.kind}`);
  return ['onset\tduration\ttrial_type', ...rows, ''].join('\n');
}

const GAITS = ['walk', 'run', 'run-up', 'strides'];

/** The truth in the shape that recordings with truth share, plus stances, mounting and clock. Times: pelvis clock. */
export function truthJson(session: SimulatedSession): object {
  const { truth, marks } = session;
  const { angles } = truth;
  const round = (values: Float64Array, digits: number) => Array.from(values, (v) => Number(v.toFixed(digits)));
  const tasks = marks.filter((m) => GAITS.includes(m.kind));
  return {
    contacts: truth.contacts,
    angles: {
      t: round(angles.t, 6),
      pelvicObliquityDeg: round(angles.pelvicObliquityDeg, 3),
      trunkLateralTiltDeg: round(angles.trunkLateralTiltDeg, 3),
      pelvicTiltDeg: round(angles.pelvicTiltDeg, 3),
      trunkForwardTiltDeg: round(angles.trunkForwardTiltDeg, 3),
      pelvisHeadingDeg: round(angles.pelvisHeadingDeg, 3),
      trunkHeadingDeg: round(angles.trunkHeadingDeg, 3),
    },
    valid_spans: tasks.map((m) => [m.startS, m.endS]),
    stances: truth.stances,
    takeOffs: truth.takeOffs,
    singleLegStands: truth.singleLegStands,
    halfTurns: truth.halfTurns,
    landings: truth.landings,
    bodyMassKg: truth.bodyMassKg,
    mounting: truth.mounting,
    clock: truth.clock,
    referencePosture: truth.referencePosture,
    restingLean: truth.restingLean,
    note: 'Synthetic session: exact truth. Contacts of whole bouts, starts and stops included; a stance says whether it is steady. Mounting: sensor to segment, w x y z.',
  };
}
