/** What an import asks for, and the plan made of it. Runs in a thread of its own; pure but for that. */
import { PLACES, TASKS, type CsvImport, type Place } from '@ambipede/shared';
import { readCsvSamples, type CsvSamples } from '../exchange/csv-recording.ts';
import { readDatedRecording } from '../exchange/motion-bids-reader.ts';
import { filesOfArchive } from '../exchange/recording-files.ts';
import { RecordingError } from '../exchange/recording-error.ts';
import { readTar } from '../exchange/tar-reader.ts';
import type { Recording } from '../motion/types.ts';
import { planImport, taskNamed, type ImportPlan, type PlanSource } from './import-plan.ts';

/** What the server says of an import. */
export type ImportContext = Pick<PlanSource, 'nowUtcMs' | 'deviceIds'>;

export interface ArchiveImport {
  bytes: Uint8Array;
  /** Null: as the archive says. */
  task: string | null;
  startedUtcMs: number | null;
}

/** @throws RecordingError */
export function planOfCsv(asked: CsvImport, context: ImportContext): ImportPlan {
  const { task, startedUtcMs, sensors, oneClock = false, marks = [] } = asked;
  const read = readSensors(sensors);
  const files = sensors.filter(({ text }) => text !== null).length;
  if (oneClock) {
    const zeroS = Math.min(...read.map(({ content }) => content.firstRowS));
    for (const { content } of read) for (const sample of content.samples) sample.tS += content.firstRowS - zeroS;
  }
  const recording: Recording = {
    task,
    streams: Object.fromEntries(read.map(({ place, content }) => [place, content])),
    marks: marks.filter(({ kind }) => kind !== 'task'),
    separateClocks: files > 1 && !oneClock,
    spanS: [
      Math.min(...read.map(({ content }) => content.samples[0]!.tS)),
      Math.max(...read.map(({ content }) => content.samples.at(-1)!.tS)),
    ],
  };
  const trialSpans = marks.filter(({ kind }) => kind === 'task').map(({ startS, endS }) => ({ task, startS, endS }));
  const plan = planImport({ ...context, recording, trialSpans, task, zeroUtcMs: startedUtcMs });
  const lost = read.filter(({ content }) => content.rowsLost > 0);
  plan.remarks.unshift(
    ...lost.map(
      ({ place, content }) => `Values are missing in ${content.rowsLost} rows of the ${place} sensor: lost samples.`,
    ),
  );
  return plan;
}

function readSensors(sensors: CsvImport['sensors']): { place: Place; content: CsvSamples }[] {
  for (const place of PLACES)
    if (sensors.filter((sensor) => sensor.place === place).length > 1)
      throw new RecordingError(`Two sensors are said to be at the ${place}: choose another place for one of them.`);
  let text: string | null = null;
  return sensors.map((sensor) => {
    text = sensor.text ?? text;
    if (text === null)
      throw new RecordingError(`The text of ${sensor.fileName} is missing: send it with the first sensor.`);
    return { place: sensor.place, content: readCsvSamples(text, sensor.mapping, sensor.fileName) };
  });
}

/** @throws RecordingError */
export async function planOfArchive(
  { bytes, task, startedUtcMs }: ArchiveImport,
  context: ImportContext,
): Promise<ImportPlan> {
  const { recording, zeroUtcMs, hasResultSpan } = await readDatedRecording(filesOfArchive(readTar(bytes)));
  const spans = hasResultSpan ? [] : taskSpans(recording, task);
  const named = taskNamed(task ?? spans[0]?.task ?? recording.task);
  const firstS = Math.min(...PLACES.map((place) => recording.streams[place]?.samples[0]?.tS ?? Infinity));
  const zero = startedUtcMs === null ? zeroUtcMs : startedUtcMs - firstS * 1000;
  if (zero === null)
    throw new RecordingError(
      'The archive does not say when it was recorded (acq_time in scans.tsv). Give the start time with the request.',
    );
  return planImport({ ...context, recording, trialSpans: spans, task: named, zeroUtcMs: zero });
}

/** Spans that are marked as a task, each a trial of it; or of the one that was asked for. */
function taskSpans({ marks, task: name }: Recording, task: string | null): PlanSource['trialSpans'] {
  const isTask = (kind: string): boolean => kind === name || (TASKS as readonly string[]).includes(kind);
  return marks
    .filter(({ kind }) => isTask(kind))
    .map(({ kind, startS, endS }) => ({ task: taskNamed(task ?? kind), startS, endS }));
}
