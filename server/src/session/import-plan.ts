/** From a recording from elsewhere to what is stored of it: raw batches, lead-in and trials, in ms UTC. Pure. */
import { IMPORT_SECONDS_MIN, LEAD_IN_STEPS, PLACES, TASKS, type Place, type Task } from '@ambipede/shared';
import { analyseRecording } from '../analysis.ts';
import { recordedBatches } from '../exchange/recorded-batches.ts';
import { RecordingError } from '../exchange/recording-error.ts';
import { doubtsOf, faultOf } from '../exchange/sensor-plausible.ts';
import type { RawBatch } from '../ingest/raw-log.ts';
import { axesOf } from '../motion/axes-agree.ts';
import type { ImuSample, Recording } from '../motion/types.ts';
import type { LeadInSpan } from './recording.ts';

const MIRRORED =
  'the axes are those of a mirror: left would be taken for right. Two columns are swapped, or a sign is wrong, in acceleration or rates. Put the columns into the order x, y, z of the sensor; where its axes are left-handed, turn the sign of one axis round in the file, in both quantities.';
const AXES_UNKNOWN =
  'whether its axes are in the right order could not be checked, since the trunk hardly tilts. In the wrong order left is taken for right: compare with what was seen, or record a forward bow before the movement.';

export interface ImportedTrial {
  task: Task;
  startedUtcMs: number;
  endedUtcMs: number;
}

export interface ImportPlan {
  startedUtcMs: number;
  endedUtcMs: number;
  /** From the recording; null when it does not tell. */
  bodyMassKg: number | null;
  leadIn: LeadInSpan[];
  trials: ImportedTrial[];
  sensors: { place: Place; deviceId: string; batches: RawBatch[] }[];
  remarks: string[];
}

export interface PlanSource {
  recording: Recording;
  /** Spans to be trials; without any, the span of the recording's result is one. */
  trialSpans: { task: Task; startS: number; endS: number }[];
  task: Task;
  zeroUtcMs: number;
  nowUtcMs: number;
  deviceIds: Record<Place, string>;
}

/** @throws RecordingError with what to do when the recording cannot become a session */
export function planImport(source: PlanSource): ImportPlan {
  const { recording, zeroUtcMs } = source;
  const remarks: string[] = [];
  const streams = PLACES.flatMap((place) => {
    const stream = recording.streams[place];
    if (!stream) return [];
    const samples = wholeSamples(stream.samples, place);
    const lost = stream.samples.length - samples.length;
    if (lost > 0) remarks.push(`${named(place)}: ${lost} rows with a value missing count as lost samples.`);
    return [{ place, samples, rateHz: stream.rateHz }];
  });
  if (!streams.some(({ place }) => place === 'pelvis'))
    throw new RecordingError('No sensor is at the pelvis, and nothing is measured without it. Say which one is.');
  for (const { place, samples, rateHz } of streams) {
    const axes = axesOf(samples, rateHz);
    const fault = faultOf(samples) ?? (axes === 'mirrored' ? MIRRORED : null);
    if (fault !== null) throw new RecordingError(`${named(place)}: ${fault}`);
    const doubts = axes === 'right-handed' ? doubtsOf(samples) : [...doubtsOf(samples), AXES_UNKNOWN];
    remarks.push(...doubts.map((doubt) => `${named(place)}: ${doubt}`));
  }
  remarks.push(...bringToOneClock(recording, streams.find(({ place }) => place === 'sternum')?.samples));

  const utcMs = (tS: number): number => zeroUtcMs + tS * 1000;
  const firstUtcMs = utcMs(Math.min(...streams.map(({ samples }) => samples[0]!.tS)));
  const lastUtcMs = utcMs(Math.max(...streams.map(({ samples }) => samples.at(-1)!.tS)));
  if (lastUtcMs - firstUtcMs < IMPORT_SECONDS_MIN * 1000)
    throw new RecordingError(
      `The recording is ${((lastUtcMs - firstUtcMs) / 1000).toFixed(1)} s long: at least ${IMPORT_SECONDS_MIN} s are needed. Check the rate or the unit of time.`,
    );
  if (lastUtcMs > source.nowUtcMs)
    throw new RecordingError('The recording would end in the future. Check its start time, and the unit of time.');
  const spans = source.trialSpans.length > 0 ? source.trialSpans : [wholeSpan(source)];
  const trials = spans.map(({ task, startS, endS }) => {
    const trial = { task, startedUtcMs: Math.round(utcMs(startS)), endedUtcMs: Math.round(utcMs(endS)) };
    if (trial.endedUtcMs <= trial.startedUtcMs || trial.endedUtcMs < firstUtcMs || trial.startedUtcMs > lastUtcMs)
      throw new RecordingError(
        `The span ${startS} to ${endS} s of the task holds no sample of the recording. Correct its start and end.`,
      );
    return trial;
  });
  const sensors = streams.map(({ place, samples, rateHz }) => {
    const deviceId = source.deviceIds[place];
    const { batches, toleranceMs } = recordedBatches(samples, rateHz, deviceId, zeroUtcMs);
    if (toleranceMs > 0)
      remarks.push(`${named(place)}: samples are unevenly spaced; their times are kept to within ${toleranceMs} ms.`);
    return { place, deviceId, batches };
  });
  return {
    startedUtcMs: Math.min(Math.round(zeroUtcMs), Math.floor(firstUtcMs), ...trials.map((each) => each.startedUtcMs)),
    endedUtcMs: Math.max(Math.ceil(lastUtcMs), ...trials.map((each) => each.endedUtcMs)),
    bodyMassKg: recording.bodyMassKg ?? null,
    leadIn: recording.marks.flatMap(({ kind, startS, endS }) => {
      const step = LEAD_IN_STEPS.find((each) => each === kind);
      return step ? [{ step, startUtcMs: Math.round(utcMs(startS)), endUtcMs: Math.round(utcMs(endS)) }] : [];
    }),
    trials,
    sensors,
    remarks,
  };
}

/** Samples with all values: a batch has no room for a missing one. */
function wholeSamples(samples: readonly ImuSample[], place: Place): ImuSample[] {
  const whole = samples.filter(({ tS, ax, ay, az, gx, gy, gz }) => Number.isFinite(tS + ax + ay + az + gx + gy + gz));
  if (whole.length < 2)
    throw new RecordingError(
      `${named(place)}: no sample has all of acceleration and turning rate. A recording without a gyroscope is read by the command \`analyse\` only.`,
    );
  const turned = whole.findIndex((sample, i) => i > 0 && sample.tS <= whole[i - 1]!.tS);
  if (turned > 0)
    throw new RecordingError(
      `${named(place)}: the time does not rise at ${whole[turned]!.tS} s. Cut the recording where the sensor was started anew.`,
    );
  return whole;
}

/** Changes the times of the sternum's samples to the pelvis's clock, as the analysis finds it. What it could not find is a remark. */
function bringToOneClock(recording: Recording, sternum: ImuSample[] | undefined): string[] {
  if (!recording.separateClocks || !sternum) return [];
  const { clock, quality } = analyseRecording(recording);
  const movedS = recording.streams.sternum?.acquisitionOffsetS ?? 0;
  for (const sample of sternum)
    sample.tS = (sample.tS - movedS - clock.sternumOffsetS) / (1 + clock.sternumSkewPpm * 1e-6);
  return quality.remarks.filter((remark) => remark.startsWith('The clocks of the two sensors'));
}

function wholeSpan({ recording, task }: PlanSource): { task: Task; startS: number; endS: number } {
  return { task, startS: recording.spanS[0], endS: recording.spanS[1] };
}

/** @throws RecordingError that lists the tasks */
export function taskNamed(name: string): Task {
  const known = TASKS.find((task) => task === name);
  if (known) return known;
  throw new RecordingError(`The task "${name}" is not known. Choose one of ${TASKS.join(', ')}.`);
}

function named(place: Place): string {
  return place === 'pelvis' ? 'Pelvis sensor' : 'Sternum sensor';
}
