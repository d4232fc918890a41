/**
 * Writes a recording as a dataset in the Motion-BIDS layout (BIDS specification, Motion): one tracking system per sensor.
 * What is lost is a missing row. `motion-bids-reader.ts` makes the same recording of it, bit for bit.
 */
import { PLACES, type Place } from '@ambipede/shared';
import { isLeadIn } from '../motion/calibration.ts';
import type { Recording, RecordedStream } from '../motion/types.ts';
import { RESULT_SPAN } from './bids-tables.ts';
import { encoded, jsonText, motionParts, numberText, tableText } from './motion-bids-text.ts';
import type { ArchiveFile } from './tar.ts';

export interface DatasetNames {
  /** Folder that holds the dataset. */
  folder: string;
  /** Labels of BIDS entities: letters and digits only. */
  subject: string;
  session: string;
  /** Which trial of its task in the session, from 1. */
  run: number;
  /** Zero of the recording's time, ms UTC. */
  zeroUtcMs: number;
}

const BIDS_VERSION = '1.10.0';
/** Sensors whose times were brought to one clock before they were stored. */
const ONE_CLOCK = 'server UTC';
const POINT: Record<Place, string> = { pelvis: 'Pelvis', sternum: 'Sternum' };
const AXES = ['x', 'y', 'z'] as const;

export function motionBidsFiles(recording: Recording, names: DatasetNames): ArchiveFile[] {
  const person = `sub-${names.subject}`;
  const session = `${person}/ses-${names.session}`;
  const start = `${person}_ses-${names.session}`;
  const task = `${start}_task-${recording.task.replace(/[^a-zA-Z0-9]/g, '')}`;
  const systems = PLACES.flatMap((place) => {
    const stream = recording.streams[place];
    return stream ? [{ place, stream, stem: `motion/${task}_tracksys-${place}_run-${names.run}` }] : [];
  });
  const zero = new Date(names.zeroUtcMs).toISOString();
  const files: ArchiveFile[] = [
    { path: 'README', parts: [encoded(README)] },
    { path: 'dataset_description.json', parts: [jsonText(DESCRIPTION)] },
    ...participantFiles(person, recording.bodyMassKg ?? null),
    {
      path: `${session}/${start}_scans.tsv`,
      parts: [tableText([['filename', 'acq_time'], ...systems.map(({ stem }) => [`${stem}_motion.tsv`, zero])])],
    },
    ...systems.flatMap(({ place, stream, stem }) => systemFiles(`${session}/${stem}`, place, stream, recording.task)),
    { path: `${session}/motion/${task}_run-${names.run}_events.tsv`, parts: [tableText(eventRows(recording))] },
    { path: `${session}/motion/${task}_run-${names.run}_events.json`, parts: [jsonText(EVENTS)] },
  ];
  return files.map((file) => ({ ...file, path: `${names.folder}/${file.path}` }));
}

const README = `Raw samples of one trial with its lead-in, from one inertial sensor on the pelvis and one on the sternum.

Times are seconds of one clock that starts at acq_time: the LATENCY of the samples and the onset of the events alike.
A row that is missing is a sample that was lost, or one between lead-in and trial that the result does not need.
Specific force reads +g upwards at rest. Axes are those of the sensor as it was worn.
The event ${RESULT_SPAN} is the span that the result of the trial is for.
A measurement, not a diagnosis.
`;

const DESCRIPTION = {
  Name: 'Pelvis and sternum inertial sensors, one trial',
  BIDSVersion: BIDS_VERSION,
  DatasetType: 'raw',
};

const EVENTS = {
  trial_type: {
    Description: 'Lead-in step, task, or the span of the result',
    Levels: {
      reference_stand: 'Upright and still: which way is up on the body',
      forward_bow: 'Slow bows forward: which way is forward on the body',
      [RESULT_SPAN]: 'The span that the result is for; samples before it settle the filters',
    },
  },
};

function participantFiles(person: string, bodyMassKg: number | null): ArchiveFile[] {
  return [
    {
      path: 'participants.tsv',
      parts: [
        tableText([
          ['participant_id', 'weight'],
          [person, numberText(bodyMassKg)],
        ]),
      ],
    },
    {
      path: 'participants.json',
      parts: [jsonText({ weight: { Description: 'Body mass when the trial started', Units: 'kg' } })],
    },
  ];
}

function systemFiles(stem: string, place: Place, stream: RecordedStream, task: string): ArchiveFile[] {
  const point = POINT[place];
  const measured = (kind: string, type: string, units: string): string[][] =>
    AXES.map((axis) => [`${place}_${kind}_${axis}`, axis, type, point, units, point, 'sensor']);
  const channels = [
    ['name', 'component', 'type', 'tracked_point', 'units', 'placement', 'reference_frame'],
    [`${place}_latency`, 'n/a', 'LATENCY', point, 's', point, 'n/a'],
    ...measured('accel', 'ACCEL', 'm/s^2'),
    ...measured('gyro', 'GYRO', 'rad/s'),
  ];
  const sidecar = {
    TaskName: task,
    SamplingFrequency: stream.rateHz,
    TrackingSystemName: place,
    ACCELChannelCount: AXES.length,
    GYROChannelCount: AXES.length,
    LATENCYChannelCount: 1,
    MotionChannelCount: channels.length - 1,
    TrackedPointsCount: 1,
    SynchronisedClock: ONE_CLOCK,
  };
  const frames = { reference_frame: { Levels: { sensor: { Description: 'Axes of the sensor as it was worn' } } } };
  return [
    { path: `${stem}_motion.tsv`, parts: motionParts(stream.samples) },
    { path: `${stem}_motion.json`, parts: [jsonText(sidecar)] },
    { path: `${stem}_channels.tsv`, parts: [tableText(channels)] },
    { path: `${stem}_channels.json`, parts: [jsonText(frames)] },
  ];
}

function eventRows({ marks, spanS, task }: Recording): string[][] {
  const row = (kind: string, startS: number, endS: number): string[] => [
    numberText(startS),
    // Marks are whole milliseconds: without the rounding the text would show the error of the subtraction.
    numberText(Math.round((endS - startS) * 1e6) / 1e6),
    kind,
  ];
  const kept = marks.filter((mark) => isLeadIn(mark) || mark.kind === task);
  return [
    ['onset', 'duration', 'trial_type'],
    ...kept.map((mark) => row(mark.kind, mark.startS, mark.endS)),
    row(RESULT_SPAN, spanS[0], spanS[1]),
  ];
}
