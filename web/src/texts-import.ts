/** The sentences of the page that brings recordings in. Fetched with that page: they are not part of `TEXTS`. */
import type { AccelUnit, DecimalMark, Delimiter, GyroUnit, TimeUnit } from '@ambipede/shared';
import { plural } from './texts-sensors.ts';

const DELIMITER: Record<Delimiter, string> = { ',': 'Comma ,', ';': 'Semicolon ;', '\t': 'Tab' };
const DECIMAL: Record<DecimalMark, string> = { '.': 'Point, as in 9.81', ',': 'Comma, as in 9,81' };
const TIME_UNIT: Record<TimeUnit, string> = { s: 'seconds', ms: 'milliseconds', us: 'microseconds' };
const ACCEL_UNIT: Record<AccelUnit, string> = { 'm/s2': 'm/s²', g: 'g', mg: 'mg (thousandths of g)' };
const GYRO_UNIT: Record<GyroUnit, string> = { 'deg/s': 'degrees per second', 'rad/s': 'radians per second' };
const QUANTITY = { accel: 'Acceleration', gyro: 'Turning rate' } as const;

export const IMPORT_TEXTS = {
  title: 'Bring in a recording',
  titleOf: (name: string) => `Bring in a recording: ${name}`,
  lead: 'A recording of any sensor becomes an ended session of this athlete, and is analysed like a trial that was streamed. The server stores the samples. The files themselves are not kept, and this page forgets them when it is left.',
  back: 'To the history',

  files: {
    title: '1. Files',
    note: 'One table (CSV) with one sensor or both, or two tables with one sensor each; or an archive in the Motion-BIDS layout (tar).',
    first: 'Choose one file or two',
    second: 'Add the file of the other sensor',
    name: (name: string, size: string) => `${name} (${size})`,
    remove: (name: string) => `Remove ${name}`,
    removeShort: 'Remove',
    archive: 'An archive says itself what its columns are. What it does not say can be given below.',
    reading: (name: string) => `Reading the beginning of ${name} …`,
    again: 'Try again',
    refused: {
      empty: (name: string) => `${name} is empty. Choose another file.`,
      twice: (name: string) => `${name} has been chosen already.`,
      tooMany: (name: string) =>
        `${name} was not taken: at most two tables belong to a recording, one for each sensor. Remove one first.`,
      mixed: (name: string) =>
        `${name} was not taken: an archive is brought in by itself. Remove the other file first.`,
      packed: (name: string) =>
        `${name} is compressed. Unpack it, then choose the table or the tar file that was in it.`,
      tooLarge: (name: string, size: string, most: string) =>
        `${name} has ${size}, and the server takes at most ${most}. Cut the recording into parts, and bring in each by itself.`,
      unreadable: (name: string) =>
        `${name} cannot be read now. It may have been moved or changed: remove it, and choose it again.`,
    },
  },

  table: {
    title: (name: string) => `2. What is in ${name}`,
    format: 'How it is written',
    delimiter: 'Between two values stands',
    decimal: 'Decimal mark',
    firstLine: 'Line of the first values',
    firstLineNote: 'Counted from 1. Lines above it are skipped.',
    firstLineWrong: 'Type the number of a line: 1, 2, 3 and so on.',
    rows: (name: string) => `First rows of ${name}`,
    rowsNote: 'The first rows, as they are in the file. The row on top says what each column is taken for.',
    unused: 'not used',
    use: { time: 'Time' },
    axisOf: (quantity: string, axis: string) => `${quantity} ${axis}`,
    ofPlace: (use: string, place: string) => `${use}, ${place.toLowerCase()}`,
    holds: 'Sensors in this file',
    one: 'One',
    both: 'Both',
    delimiterName: DELIMITER,
    decimalName: DECIMAL,
  },

  time: {
    title: 'Time',
    from: 'Times come from',
    kind: { column: 'a column', rate: 'a steady rate' },
    column: 'Column of time',
    unit: 'Unit of time',
    rate: 'Samples a second',
    rateNote: 'Only where rows are evenly spaced and none is missing.',
    rateWrong: (least: number, most: number) => `Type a number from ${least} to ${most}.`,
    found: (rate: string) => `${rate} samples a second in the first rows.`,
    unitName: TIME_UNIT,
  },

  sensor: {
    title: (n: number, of: number) => (of === 1 ? 'Sensor' : `Sensor ${n}`),
    place: 'Worn at',
    quantity: QUANTITY,
    column: (quantity: string, axis: string) => `${quantity}, column of ${axis}`,
    unit: (quantity: string) => `Unit of the ${quantity.toLowerCase()}`,
    choose: 'choose',
    columnName: (n: number, name: string) => (name === String(n) ? `Column ${n}` : `${n}: ${name}`),
    checking: 'The server looks at the first rows …',
    fine: 'Nothing speaks against this in the first rows.',
    order:
      'Give x, y and z as the maker of the sensor names them, the same for both quantities. Two columns that are swapped can make left of right. How the sensor is turned on the body does not matter.',
    unitNames: { accel: ACCEL_UNIT, gyro: GYRO_UNIT },
  },

  about: {
    title: (n: number) => `${n}. When, and what`,
    task: 'Task',
    taskOfArchive: 'as the archive says',
    choose: 'choose',
    started: 'Start of the recording',
    startedNote: (zone: string) =>
      `Day and time of the first sample, in the time zone of this device (${zone}). The history is in this order.`,
    startedOfArchive: (zone: string) =>
      `Leave it empty if the archive says it. Day and time of the first sample, in the time zone of this device (${zone}).`,
    startedWrong: 'This is not a day and a time.',
    oneClock: 'Both files count time from the same moment',
    oneClockNote:
      'Otherwise each file begins at its first sample, and the two are matched by the movement that both felt. That is less exact.',
  },

  marks: {
    title: 'Parts of the recording (not needed)',
    note: 'In seconds since its first sample. Without a part for the task, all of the recording is one trial. Without a reference stand and bows, how the sensors sit is guessed from the movement, which is weaker.',
    add: 'Add a part',
    kind: (n: number) => `Part ${n} is`,
    task: 'The task: a trial',
    start: (n: number) => `Part ${n} starts at, in s`,
    end: (n: number) => `Part ${n} ends at, in s`,
    remove: (n: number) => `Remove part ${n}`,
    wrong: 'Type a number of seconds.',
    order: 'The end has to come after the start.',
  },

  missing: {
    title: 'Still missing',
    none: 'Nothing is missing.',
    file: 'Choose a file.',
    table: (name: string) => `${name}: it has not been read. Choose another delimiter or first line, or remove it.`,
    firstLine: (name: string) => `${name}: type the number of the line with the first values.`,
    time: (name: string) => `${name}: choose the column of time and its unit, or give the rate.`,
    columns: (name: string, quantity: string, axes: string) =>
      `${name}: choose the column of ${axes} of the ${quantity.toLowerCase()}.`,
    gyro: 'Without turning rates (gyroscope) left and right cannot be told.',
    unit: (name: string, quantity: string) => `${name}: choose the unit of the ${quantity.toLowerCase()}.`,
    place: (name: string) => `${name}: say where the sensor was worn.`,
    pelvis: 'One sensor has to be at the pelvis: nothing is measured without it.',
    samePlace: 'Both sensors are said to be at the same place. Choose another for one of them.',
    task: 'Choose the task.',
    started: 'Say when the recording started.',
    marks: 'Correct the parts of the recording, or remove them.',
    sensorOf: (name: string, n: number) => `${name}, sensor ${n}`,
  },

  send: {
    title: (n: number) => `${n}. Bring it in`,
    button: 'Bring in the recording',
    doubts:
      'The server doubts something above. Look at it first: a wrong unit or column gives results that look like any others.',
    reading: 'Reading the files …',
    sending: (size: string) => `Sending ${size}, and waiting until the server has read it. Leave this page open.`,
    failed: 'The recording was not brought in',
    offline:
      'Everything chosen here is kept: send it again when the server answers. If it has arrived already, the server says so and stores it once.',
    kept: 'Nothing was stored. Everything chosen here is kept: correct it, and send it again.',
  },

  done: {
    title: 'The recording is in',
    making: (n: number) =>
      `${plural(n, 'trial', 'trials')}. ${n === 1 ? 'Its final result is' : 'Their final results are'} being made.`,
    made: (n: number) => `${plural(n, 'trial', 'trials')}. ${n === 1 ? 'Its result is' : 'All results are'} there.`,
    failed: 'A result could not be made. Open the trial that failed: it says why. The samples are kept.',
    unknown: 'How far it is cannot be told now: the server does not answer.',
    remarks: 'What to know about it',
    check: 'Check it before it counts: look at a part in which you know which foot stood when, and compare sides.',
    open: (task: string, when: string) => `${task}, ${when}`,
    another: 'Bring in another recording',
  },
} as const;
