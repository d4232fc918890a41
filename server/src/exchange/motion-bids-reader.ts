/** Reads a recording in the Motion-BIDS layout (BIDS specification, Motion) into a `Recording`, from a folder or an archive. */
import { basename } from 'node:path';
import { PLACES, type Place } from '@ambipede/shared';
import type { Recording } from '../motion/types.ts';
import { RATE_MAX_HZ, RATE_MIN_HZ } from '../stance/contacts.ts';
import { channelOf, samplesOf, type Channel } from './bids-channels.ts';
import { readAcquisitionTimes, readMarks, readNumbers, readSidecar, readTable, RESULT_SPAN } from './bids-tables.ts';
import { readBodyMassKg } from './participants.ts';
import { RecordingError } from './recording-error.ts';
import { filesOfFolder, type RecordingFiles } from './recording-files.ts';

interface TrackingSystem {
  label: string;
  rateHz: number;
  taskName: string;
  channels: Channel[];
  rows: number[][];
  /** Start on the wall clock in seconds; null when scans.tsv does not tell. */
  acquiredS: number | null;
  /** Name of the clock that its times were brought to; null when they are those of the sensor. */
  synchronisedClock: string | null;
}

/** @throws RecordingError with what to do when the folder is not usable. */
export async function readRecording(folder: string): Promise<Recording> {
  return (await readDatedRecording(filesOfFolder(folder))).recording;
}

export interface DatedRecording {
  recording: Recording;
  /** Zero of the recording's time, ms UTC, from scans.tsv; null when that does not tell. */
  zeroUtcMs: number | null;
  /** An event says which span the result is for. */
  hasResultSpan: boolean;
}

/** @throws RecordingError with what to do when the files are not usable. */
export async function readDatedRecording(files: RecordingFiles): Promise<DatedRecording> {
  const { where } = files;
  const paths = await files.list();
  const motionFiles = paths.filter((name) => /_tracksys-[^_]+.*_motion\.tsv$/.test(name)).sort();
  if (motionFiles.length === 0) {
    throw new RecordingError(
      `No *_tracksys-<label>_motion.tsv in ${where}: give a recording folder in the Motion-BIDS layout.`,
    );
  }
  const acquired = await readAcquisitionTimes(files, paths);
  const systems: TrackingSystem[] = [];
  for (const name of motionFiles) systems.push(await readSystem(files, name, acquired));
  const { streams, owners } = assignPlaces(systems);

  const pelvis = streams.pelvis?.samples;
  if (!pelvis) {
    const seen = [...new Set(systems.flatMap((s) => s.channels.map((c) => c.trackedPoint)))].join(', ');
    throw new RecordingError(
      `No pelvis sensor in ${where} (tracked points: ${seen}). Set tracked_point in channels.tsv to Pelvis.`,
    );
  }
  const measured = pelvis.filter((s) => Number.isFinite(s.ax + s.ay + s.az));
  const first = measured[0];
  const last = measured[measured.length - 1];
  if (!first || !last)
    throw new RecordingError(`The pelvis sensor in ${where} has no samples with a time and an acceleration.`);
  const separateClocks = streams.sternum !== undefined && !shareClock(owners.pelvis, owners.sternum);
  const offsetS = startDifferenceS(owners.pelvis, owners.sternum);
  if (streams.sternum && (separateClocks || offsetS !== 0)) {
    // The sternum's stream onto the pelvis's clock, as far as the wall clock tells.
    for (const sample of streams.sternum.samples) sample.tS += offsetS;
    streams.sternum.acquisitionOffsetS = offsetS;
  }
  const marks = await readMarks(files, paths);
  const resultSpans = marks.filter((mark) => mark.kind === RESULT_SPAN);
  if (resultSpans.length > 1)
    throw new RecordingError(`events.tsv has ${resultSpans.length} events ${RESULT_SPAN}: keep one.`);
  const [span] = resultSpans;
  const recording: Recording = {
    task: owners.pelvis?.taskName ?? 'unknown',
    streams,
    marks: marks.filter((mark) => mark !== span),
    separateClocks,
    spanS: span ? [span.startS, span.endS] : [first.tS, last.tS],
    bodyMassKg: await readBodyMassKg(files, motionFiles[0]!),
  };
  const acquiredS = owners.pelvis?.acquiredS ?? null;
  // To the microsecond, so that whole ms stay whole.
  const zeroUtcMs = acquiredS === null ? null : Math.round(acquiredS * 1e6) / 1000;
  return { recording, zeroUtcMs, hasResultSpan: span !== undefined };
}

function assignPlaces(systems: readonly TrackingSystem[]): {
  streams: Recording['streams'];
  owners: Partial<Record<Place, TrackingSystem>>;
} {
  const streams: Recording['streams'] = {};
  const owners: Partial<Record<Place, TrackingSystem>> = {};
  for (const system of systems) {
    for (const place of PLACES) {
      const samples = samplesOf(system.channels, system.rows, system.rateHz, place, systems.length === 1);
      if (samples === null) continue;
      if (owners[place]) {
        throw new RecordingError(
          `Two tracking systems (${owners[place].label}, ${system.label}) both have a tracked point for the ${place}: keep one.`,
        );
      }
      owners[place] = system;
      streams[place] = { samples, rateHz: system.rateHz };
    }
  }
  return { streams, owners };
}

function shareClock(pelvis: TrackingSystem | undefined, sternum: TrackingSystem | undefined): boolean {
  if (pelvis === sternum) return true;
  return pelvis?.synchronisedClock != null && pelvis.synchronisedClock === sternum?.synchronisedClock;
}

function startDifferenceS(pelvis: TrackingSystem | undefined, sternum: TrackingSystem | undefined): number {
  if (pelvis?.acquiredS == null || sternum?.acquiredS == null) return 0;
  return sternum.acquiredS - pelvis.acquiredS;
}

async function readSystem(
  files: RecordingFiles,
  motionPath: string,
  acquired: ReadonlyMap<string, number>,
): Promise<TrackingSystem> {
  const stem = motionPath.slice(0, -'_motion.tsv'.length);
  const sidecar = await readSidecar(files, `${stem}_motion.json`);
  const rateHz = Number(sidecar['SamplingFrequency']);
  if (!(rateHz >= RATE_MIN_HZ && rateHz <= RATE_MAX_HZ)) {
    throw new RecordingError(
      `${basename(stem)}_motion.json needs SamplingFrequency, ${RATE_MIN_HZ} to ${RATE_MAX_HZ} Hz for foot contacts, not ${String(sidecar['SamplingFrequency'])}.`,
    );
  }
  const channels = (await readTable(files, `${stem}_channels.tsv`)).map(channelOf);
  return {
    label: /_tracksys-([^_]+)/.exec(basename(motionPath))?.[1] ?? 'unknown',
    rateHz,
    taskName: String(sidecar['TaskName'] ?? /_task-([^_]+)/.exec(basename(motionPath))?.[1] ?? 'unknown'),
    channels,
    rows: await readNumbers(files, motionPath, channels.length),
    acquiredS: acquired.get(basename(motionPath)) ?? null,
    synchronisedClock: typeof sidecar['SynchronisedClock'] === 'string' ? sidecar['SynchronisedClock'] : null,
  };
}
