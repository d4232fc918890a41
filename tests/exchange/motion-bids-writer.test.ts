/** A recording of stored batches, written as Motion-BIDS, is read back to the last bit. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { crc32c } from '@ambipede/firmware-protocol';
import { motionBidsFiles, type DatasetNames } from '../../server/src/exchange/motion-bids-writer.ts';
import { readRecording } from '../../server/src/exchange/motion-bids-reader.ts';
import { ROWS_PER_PART } from '../../server/src/exchange/motion-bids-text.ts';
import { tarOf } from '../../server/src/exchange/tar.ts';
import type { RawBatch } from '../../server/src/ingest/raw-log.ts';
import type { Recording } from '../../server/src/motion/types.ts';
import { buildRecording } from '../../server/src/session/recording.ts';
import { makeRawBatch } from '../support/raw-batch.ts';
import { seededRandom } from '../support/seeded-random.ts';

const made: string[] = [];
afterEach(() => made.splice(0).forEach((folder) => rmSync(folder, { recursive: true })));

const START_UTC_MS = 1_780_000_000_000;
const NAMES: DatasetNames = { folder: 'walk-1', subject: 'ab12', session: 'cd34', run: 2, zeroUtcMs: START_UTC_MS };
const BATCH = 40;

/** Samples of `seconds` at about 200 Hz on a clock that drifts, with every seventh batch lost; counts by chance. */
function batchesOf(seed: number, fromS: number, seconds: number): RawBatch[] {
  const random = seededRandom(seed);
  return Array.from({ length: Math.floor((seconds * 200) / BATCH) }, (_, k) => {
    const payload = Uint8Array.from({ length: BATCH * 12 }, () => Math.floor(random() * 256));
    const firstUtcMs = START_UTC_MS + fromS * 1000 + k * BATCH * 5.000037 + seed / 7;
    const endUtcMs = firstUtcMs + BATCH * 5.000037;
    return makeRawBatch({
      firstSequence: k * BATCH,
      count: BATCH,
      payload,
      crc32c: crc32c(payload),
      firstUtcMs,
      endUtcMs,
    });
  }).filter((_, k) => k % 7 !== 3);
}

function recordingOf(places: readonly ('pelvis' | 'sternum')[], bodyMassKg: number | null): Recording {
  const at = (s: number): number => START_UTC_MS + s * 1000;
  const leadIn = [
    { step: 'reference_stand', startUtcMs: at(5), endUtcMs: at(9.007) },
    { step: 'forward_bow', startUtcMs: at(10.001), endUtcMs: at(18.999) },
  ] as const;
  const windows = [
    [0, 20],
    [600, 660],
  ] as const;
  const raw = windows.map(([fromS, toS]) => ({
    window: [at(fromS), at(toS)] as [number, number],
    batches: Object.fromEntries(places.map((place, i) => [place, batchesOf(i + 1, fromS, toS - fromS)])),
  }));
  const trial = { task: 'walk', startUtcMs: at(610.123), endUtcMs: at(655.311), bodyMassKg } as const;
  return buildRecording(trial, leadIn, raw, START_UTC_MS);
}

function unpack(recording: Recording): string {
  const parent = mkdtempSync(join(tmpdir(), 'dataset-'));
  made.push(parent);
  writeFileSync(join(parent, 'a.tar'), Buffer.concat(tarOf(motionBidsFiles(recording, NAMES), 1)));
  execFileSync('tar', ['-xf', 'a.tar'], { cwd: parent });
  return join(parent, NAMES.folder);
}

describe('a recording of stored batches', () => {
  it('is read back the same, with both sensors on one clock and lost samples as missing rows', async () => {
    const recording = recordingOf(['pelvis', 'sternum'], 61.7);
    expect(recording.streams.pelvis!.samples.length).toBeGreaterThan(ROWS_PER_PART);
    expect(await readRecording(unpack(recording))).toEqual(recording);
  });

  it('is read back the same with the pelvis alone and no body mass', async () => {
    const recording = recordingOf(['pelvis'], null);
    expect(await readRecording(unpack(recording))).toEqual(recording);
  });

  it('keeps the ends of spans of whole ms, whose sum of doubles is not always their double', async () => {
    const random = seededRandom(4);
    const spans = Array.from({ length: 20_000 }, (): [number, number] => {
      const startMs = Math.floor(random() * 3e6);
      return [startMs / 1000, (startMs + 1 + Math.floor(random() * 6e5)) / 1000];
    });
    const ends = spans.filter(([startS, endS]) => startS + (endS - startS) !== endS).slice(0, 10);
    expect(ends).toHaveLength(10);
    const plain = recordingOf(['pelvis'], null);
    for (const spanS of ends) {
      const recording: Recording = { ...plain, marks: [{ kind: 'walk', startS: spanS[0], endS: spanS[1] }], spanS };
      const again = await readRecording(unpack({ ...recording, streams: { pelvis: fewOf(plain) } }));
      expect({ marks: again.marks, spanS: again.spanS }).toEqual({ marks: recording.marks, spanS });
    }
  });
});

const fewOf = ({ streams }: Recording) => ({ ...streams.pelvis!, samples: streams.pelvis!.samples.slice(0, 3) });

// Rules of the Motion-BIDS specification (bids-standard/bids-specification, motion.md).
describe('the dataset', () => {
  const files = (): { all: string[]; read: (end: string) => string; rows: (end: string) => string[][] } => {
    const folder = unpack(recordingOf(['pelvis', 'sternum'], 61.7));
    const all = readdirSync(folder, { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile())
      .map((entry) => join(entry.parentPath, entry.name).slice(folder.length + 1))
      .sort();
    const read = (end: string): string =>
      readFileSync(
        join(
          folder,
          all.find((name) => name.endsWith(end))!,
        ),
        'utf8',
      );
    const rows = (end: string): string[][] =>
      read(end)
        .trimEnd()
        .split('\n')
        .map((line) => line.split('\t'));
    return { all, read, rows };
  };

  it('has the files and names of the layout, one tracking system per sensor', () => {
    const start = 'sub-ab12/ses-cd34/motion/sub-ab12_ses-cd34_task-walk';
    const system = (place: string): string[] =>
      ['channels.json', 'channels.tsv', 'motion.json', 'motion.tsv'].map(
        (end) => `${start}_tracksys-${place}_run-2_${end}`,
      );
    expect(files().all).toEqual(
      [
        'README',
        'dataset_description.json',
        'participants.json',
        'participants.tsv',
        'sub-ab12/ses-cd34/sub-ab12_ses-cd34_scans.tsv',
        `${start}_run-2_events.json`,
        `${start}_run-2_events.tsv`,
        ...system('pelvis'),
        ...system('sternum'),
      ].sort(),
    );
  });

  it('has the required columns of channels.tsv in order, and as many columns without a header in motion.tsv', () => {
    const { rows, read } = files();
    const [head, ...channels] = rows('tracksys-sternum_run-2_channels.tsv');
    expect(head!.slice(0, 5)).toEqual(['name', 'component', 'type', 'tracked_point', 'units']);
    for (const row of rows('tracksys-sternum_run-2_motion.tsv')) expect(row).toHaveLength(channels.length);
    for (const [, component, type] of channels) {
      expect(['x', 'y', 'z', 'n/a']).toContain(component);
      expect(['ACCEL', 'GYRO', 'LATENCY']).toContain(type);
    }
    expect(JSON.parse(read('tracksys-sternum_run-2_motion.json'))).toMatchObject({
      TaskName: 'walk',
      SamplingFrequency: 200,
    });
    expect(JSON.parse(read('dataset_description.json'))).toMatchObject({ BIDSVersion: expect.stringMatching(/^1\./) });
  });

  it('names its files from the session folder in scans.tsv, with the time that LATENCY counts from', () => {
    const { rows, all } = files();
    const [head, ...scans] = rows('_scans.tsv');
    expect(head).toEqual(['filename', 'acq_time']);
    for (const [name, time] of scans) {
      expect(all).toContain(`sub-ab12/ses-cd34/${name}`);
      expect(Date.parse(time!)).toBe(START_UTC_MS);
    }
    expect(scans.map(([name]) => basename(name!)).sort()).toHaveLength(2);
  });

  it('tells who and what by pseudonym, weight and events alone', () => {
    const { rows } = files();
    expect(rows('participants.tsv')).toEqual([
      ['participant_id', 'weight'],
      ['sub-ab12', '61.7'],
    ]);
    expect(rows('_events.tsv')).toEqual([
      ['onset', 'duration', 'trial_type'],
      ['5', '4.007', 'reference_stand'],
      ['10.001', '8.998', 'forward_bow'],
      ['610.123', '45.188', 'walk'],
      ['610.123', '45.188', 'result_span'],
    ]);
  });
});

describe('a folder that says twice what its result is for', () => {
  it('is refused', async () => {
    const folder = unpack(recordingOf(['pelvis'], null));
    const motion = join(folder, 'sub-ab12/ses-cd34/motion');
    const events = join(
      motion,
      readdirSync(motion).find((name) => name.endsWith('_events.tsv'))!,
    );
    writeFileSync(events, `${readFileSync(events, 'utf8')}1\t2\tresult_span\n`);
    await expect(readRecording(folder)).rejects.toThrow(/2 events result_span: keep one/);
  });
});
