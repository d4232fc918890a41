/** Reads a recording folder in the Motion-BIDS layout (BIDS specification, Motion) into a `Recording`. */
import { readdir, readFile } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { RAD_PER_DEG, STANDARD_GRAVITY_MPS2, type Place } from '@ambipede/shared';
import type { ImuSample, Mark, Recording } from '../motion/types.ts';

/** Something about the folder is not as it must be; the message says which file and what to do. */
export class RecordingError extends Error {
  override name = 'RecordingError';
}

/** Names of `tracked_point` that mean one of our two places, lower case (docs/conventions.md lists them). */
export const PLACE_SYNONYMS: Record<Place, readonly string[]> = {
  pelvis: [
    'pelvis',
    'sacrum',
    'hip',
    'hips',
    'l5',
    'l4',
    'l3',
    'lumbar',
    'lower back',
    'lowerback',
    'lower_back',
    'waist',
    'trunk_lower',
  ],
  sternum: ['sternum', 'thorax', 'chest', 'trunk', 'upper back', 'upperback', 'upper_back', 'torso', 't4', 'c7'],
};

const UNIT_FACTORS: Record<string, Record<string, number>> = {
  ACCEL: { 'm/s^2': 1, 'm/s2': 1, 'm/s²': 1, g: STANDARD_GRAVITY_MPS2, mg: STANDARD_GRAVITY_MPS2 / 1000 },
  GYRO: { 'rad/s': 1, 'deg/s': RAD_PER_DEG, '°/s': RAD_PER_DEG, 'degree/s': RAD_PER_DEG },
  LATENCY: { s: 1, ms: 1e-3, us: 1e-6, 'n/a': 1 },
};

interface Channel {
  name: string;
  component: string;
  type: string;
  trackedPoint: string;
  units: string;
}

interface TrackingSystem {
  label: string;
  rateHz: number;
  taskName: string;
  channels: Channel[];
  rows: number[][];
  /** Start on the wall clock in seconds; null when scans.tsv does not tell. */
  acquiredS: number | null;
}

export async function readRecording(folder: string): Promise<Recording> {
  const files = await listFiles(folder);
  const motionFiles = files.filter((name) => /_tracksys-[^_]+.*_motion\.tsv$/.test(name)).sort();
  if (motionFiles.length === 0) {
    throw new RecordingError(
      `No *_tracksys-<label>_motion.tsv in ${folder}: give a recording folder in the Motion-BIDS layout.`,
    );
  }
  const acquired = await readAcquisitionTimes(files);
  const systems: TrackingSystem[] = [];
  for (const name of motionFiles) systems.push(await readSystem(name, acquired));

  const streams: Recording['streams'] = {};
  const owners = new Map<Place, TrackingSystem>();
  for (const system of systems) {
    for (const place of ['pelvis', 'sternum'] as const) {
      const samples = samplesOf(system, place, systems.length === 1);
      if (samples === null) continue;
      if (owners.has(place)) {
        throw new RecordingError(
          `Two tracking systems (${owners.get(place)?.label}, ${system.label}) both have a tracked point for the ${place}: keep one.`,
        );
      }
      owners.set(place, system);
      streams[place] = { samples, rateHz: system.rateHz };
    }
  }
  if (!streams.pelvis) {
    const seen = [...new Set(systems.flatMap((s) => s.channels.map((c) => c.trackedPoint)))].join(', ');
    throw new RecordingError(
      `No pelvis sensor in ${folder} (tracked points: ${seen}). Set tracked_point in channels.tsv to Pelvis.`,
    );
  }
  const separateClocks = streams.sternum !== undefined && owners.get('pelvis') !== owners.get('sternum');
  if (separateClocks && streams.sternum) {
    // The sternum's stream onto the pelvis's clock, as far as the wall clock tells.
    const offsetS = startDifferenceS(owners.get('pelvis'), owners.get('sternum'));
    for (const sample of streams.sternum.samples) sample.tS += offsetS;
    streams.sternum.acquisitionOffsetS = offsetS;
  }
  const marks = await readMarks(files);
  const pelvis = streams.pelvis.samples;
  const first = pelvis[0];
  const last = pelvis[pelvis.length - 1];
  if (!first || !last) throw new RecordingError(`The pelvis sensor in ${folder} has no samples.`);
  return {
    task: owners.get('pelvis')?.taskName ?? 'unknown',
    streams,
    marks,
    separateClocks,
    spanS: [first.tS, last.tS],
  };
}

async function listFiles(folder: string): Promise<string[]> {
  const entries = await readdir(folder, { withFileTypes: true, recursive: true }).catch((cause: unknown) => {
    throw new RecordingError(
      `Cannot read the folder ${folder}: ${cause instanceof Error ? cause.message : String(cause)}`,
    );
  });
  return entries.filter((entry) => entry.isFile()).map((entry) => join(entry.parentPath, entry.name));
}

/** A tab-separated file with a header row, as one record a row. */
async function readTable(path: string): Promise<Record<string, string>[]> {
  const lines = (await readFile(path, 'utf8')).split(/\r?\n/).filter((line) => line !== '');
  const header = (lines[0] ?? '').split('\t').map((name) => name.trim());
  return lines.slice(1).map((line) => {
    const cells = line.split('\t');
    return Object.fromEntries(header.map((name, i) => [name, (cells[i] ?? 'n/a').trim()]));
  });
}

async function readAcquisitionTimes(files: string[]): Promise<Map<string, number>> {
  const times = new Map<string, number>();
  for (const path of files.filter((name) => name.endsWith('_scans.tsv'))) {
    for (const row of await readTable(path)) {
      const ms = Date.parse(withZone(row['acq_time'] ?? ''));
      if (Number.isFinite(ms))
        times.set(basename(row['filename'] ?? ''), ms / 1000 + subMillisecondS(row['acq_time'] ?? ''));
    }
  }
  return times;
}

/** A time without a zone is taken as UTC for all files alike: only differences count. */
function withZone(text: string): string {
  return /(Z|[+-]\d\d:?\d\d)$/.test(text) ? text : `${text}Z`;
}

/** Date.parse keeps three decimals; BIDS allows six. */
function subMillisecondS(text: string): number {
  const decimals = /\.(\d+)/.exec(text)?.[1] ?? '';
  return decimals.length > 3 ? Number(`0.000${decimals.slice(3)}`) : 0;
}

function startDifferenceS(pelvis: TrackingSystem | undefined, sternum: TrackingSystem | undefined): number {
  if (pelvis?.acquiredS == null || sternum?.acquiredS == null) return 0;
  return sternum.acquiredS - pelvis.acquiredS;
}

async function readSystem(motionPath: string, acquired: Map<string, number>): Promise<TrackingSystem> {
  const stem = motionPath.slice(0, -'_motion.tsv'.length);
  const label = /_tracksys-([^_]+)/.exec(basename(motionPath))?.[1] ?? 'unknown';
  const sidecar = JSON.parse(
    await readFile(`${stem}_motion.json`, 'utf8').catch(() => {
      throw new RecordingError(`${basename(stem)}_motion.json is missing beside ${basename(motionPath)}.`);
    }),
  ) as Record<string, unknown>;
  const rateHz = Number(sidecar['SamplingFrequency']);
  if (!(rateHz > 0)) {
    throw new RecordingError(`${basename(stem)}_motion.json needs SamplingFrequency, a positive number of Hz.`);
  }
  const table = await readTable(`${stem}_channels.tsv`).catch(() => {
    throw new RecordingError(`${basename(stem)}_channels.tsv is missing or unreadable.`);
  });
  const channels = table.map((row) => ({
    name: row['name'] ?? '',
    component: (row['component'] ?? 'n/a').toLowerCase(),
    type: (row['type'] ?? '').toUpperCase(),
    trackedPoint: row['tracked_point'] ?? 'n/a',
    units: row['units'] ?? 'n/a',
  }));
  return {
    label,
    rateHz,
    taskName: String(sidecar['TaskName'] ?? /_task-([^_]+)/.exec(basename(motionPath))?.[1] ?? 'unknown'),
    channels,
    rows: await readRows(motionPath, channels.length),
    acquiredS: acquired.get(basename(motionPath)) ?? null,
  };
}

async function readRows(path: string, columns: number): Promise<number[][]> {
  const rows: number[][] = [];
  let line = 0;
  for (const text of (await readFile(path, 'utf8')).split('\n')) {
    line += 1;
    if (text.trim() === '') continue;
    const cells = text.split('\t');
    if (cells.length !== columns) {
      throw new RecordingError(
        `${basename(path)} line ${line} has ${cells.length} columns, channels.tsv lists ${columns}. The file has no header row.`,
      );
    }
    // n/a (BIDS for missing) becomes NaN.
    rows.push(cells.map((cell) => (cell.trim() === '' ? NaN : Number(cell))));
  }
  return rows;
}

function placeOf(trackedPoint: string): Place | null {
  const name = trackedPoint.trim().toLowerCase();
  for (const [place, synonyms] of Object.entries(PLACE_SYNONYMS)) {
    if (synonyms.includes(name)) return place as Place;
  }
  return null;
}

function unitFactor(channel: Channel): number {
  const factor =
    UNIT_FACTORS[channel.type]?.[channel.units] ?? UNIT_FACTORS[channel.type]?.[channel.units.toLowerCase()];
  if (factor === undefined) {
    const known = Object.keys(UNIT_FACTORS[channel.type] ?? {}).join(', ');
    throw new RecordingError(
      `Channel ${channel.name}: unit "${channel.units}" is not known for ${channel.type} (known: ${known}).`,
    );
  }
  return factor;
}

/**
 * A single tracking system with one tracked point of an unknown name is taken as the pelvis only when it is the
 * only point: nothing else could be meant.
 */
function samplesOf(system: TrackingSystem, place: Place, isOnlySystem: boolean): ImuSample[] | null {
  const points = new Set(system.channels.filter((c) => c.type === 'ACCEL').map((c) => c.trackedPoint));
  const soleUnknown = isOnlySystem && points.size === 1 && placeOf([...points][0] ?? '') === null;
  const isHere = (c: Channel): boolean =>
    placeOf(c.trackedPoint) === place || (soleUnknown && place === 'pelvis' && points.has(c.trackedPoint));
  const column = (type: string, component: string): { index: number; factor: number } | null => {
    const index = system.channels.findIndex((c) => c.type === type && c.component === component && isHere(c));
    const channel = system.channels[index];
    return channel ? { index, factor: unitFactor(channel) } : null;
  };
  const accel = ['x', 'y', 'z'].map((axis) => column('ACCEL', axis));
  if (accel.every((c) => c === null)) return null;
  const gyro = ['x', 'y', 'z'].map((axis) => column('GYRO', axis));
  const latencyIndex = system.channels.findIndex(
    (c) => c.type === 'LATENCY' && (placeOf(c.trackedPoint) === place || c.trackedPoint === 'n/a'),
  );
  const latencyChannel = system.channels[latencyIndex];
  const latencyFactor = latencyChannel ? unitFactor(latencyChannel) : 0;
  // An accelerometer axis that was not recorded reads 0: with the axes at hand that is the best that can be said of it.
  const read = (row: number[], c: { index: number; factor: number } | null, absent: number): number =>
    c === null ? absent : (row[c.index] ?? NaN) * c.factor;
  return system.rows.map((row, i) => ({
    tS: latencyChannel ? (row[latencyIndex] ?? NaN) * latencyFactor : i / system.rateHz,
    ax: read(row, accel[0] ?? null, 0),
    ay: read(row, accel[1] ?? null, 0),
    az: read(row, accel[2] ?? null, 0),
    gx: read(row, gyro[0] ?? null, NaN),
    gy: read(row, gyro[1] ?? null, NaN),
    gz: read(row, gyro[2] ?? null, NaN),
  }));
}

async function readMarks(files: string[]): Promise<Mark[]> {
  const marks: Mark[] = [];
  for (const path of files.filter((name) => name.endsWith('_events.tsv'))) {
    for (const row of await readTable(path)) {
      const startS = Number(row['onset']);
      const durationS = Number(row['duration']);
      if (!Number.isFinite(startS)) continue;
      marks.push({
        kind: row['trial_type'] ?? 'n/a',
        startS,
        endS: startS + (Number.isFinite(durationS) ? durationS : 0),
      });
    }
  }
  return marks.sort((a, b) => a.startS - b.startS);
}
