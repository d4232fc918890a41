/** What requests about imports may hold; the types of the answers are those of shared/src/imports.ts. */
import { Type } from '@fastify/type-provider-typebox';
import {
  ACCEL_UNITS,
  DECIMAL_MARKS,
  DELIMITERS,
  GYRO_UNITS,
  IMPORT_COLUMNS_MAX,
  IMPORT_FILE_NAME_CHARACTERS_MAX,
  IMPORT_MARKS_MAX,
  IMPORT_PREVIEW_CHARACTERS_MAX,
  LEAD_IN_STEPS,
  PLACES,
  TASKS,
  TIME_UNITS,
  type AxisColumns,
} from '@ambipede/shared';
import { RATE_MAX_HZ, RATE_MIN_HZ } from '../stance/contacts.ts';
import { NOT_BLANK, oneOf } from './schemas.ts';

const closed = { additionalProperties: false } as const;
/** Ten days in seconds: no recording is longer. */
const SECONDS_MAX = 864_000;

const column = { type: 'integer', minimum: 0, maximum: IMPORT_COLUMNS_MAX - 1 } as const;
const axes = Type.Unsafe<AxisColumns>({ type: 'array', items: column, minItems: 3, maxItems: 3 });
const time = Type.Union([
  Type.Object(
    { column: Type.Integer({ minimum: 0, maximum: IMPORT_COLUMNS_MAX - 1 }), unit: oneOf(TIME_UNITS) },
    closed,
  ),
  Type.Object({ rateHz: Type.Number({ minimum: RATE_MIN_HZ, maximum: RATE_MAX_HZ }) }, closed),
]);
const formatParts = {
  delimiter: oneOf(DELIMITERS),
  decimal: oneOf(DECIMAL_MARKS),
  firstLine: Type.Integer({ minimum: 1, maximum: 1_000_000 }),
};
const mapping = Type.Object(
  {
    ...formatParts,
    time,
    accel: Type.Object({ columns: axes, unit: oneOf(ACCEL_UNITS) }, closed),
    gyro: Type.Object({ columns: axes, unit: oneOf(GYRO_UNITS) }, closed),
  },
  closed,
);
const fileName = Type.String({ minLength: 1, maxLength: IMPORT_FILE_NAME_CHARACTERS_MAX, pattern: NOT_BLANK });
const utcMs = Type.Integer({ minimum: 0, maximum: Number.MAX_SAFE_INTEGER });

export const ImportPreviewBody = Type.Object(
  {
    name: fileName,
    text: Type.String({ minLength: 1, maxLength: IMPORT_PREVIEW_CHARACTERS_MAX }),
    mapping: Type.Optional(mapping),
    format: Type.Optional(Type.Object(formatParts, closed)),
  },
  closed,
);

const seconds = Type.Number({ minimum: 0, maximum: SECONDS_MAX });
export const CsvImportBody = Type.Object(
  {
    task: oneOf(TASKS),
    startedUtcMs: utcMs,
    sensors: Type.Array(
      Type.Object(
        { place: oneOf(PLACES), fileName, text: Type.Union([Type.String({ minLength: 1 }), Type.Null()]), mapping },
        closed,
      ),
      { minItems: 1, maxItems: PLACES.length },
    ),
    oneClock: Type.Optional(Type.Boolean()),
    marks: Type.Optional(
      Type.Array(Type.Object({ kind: oneOf([...LEAD_IN_STEPS, 'task']), startS: seconds, endS: seconds }, closed), {
        maxItems: IMPORT_MARKS_MAX,
      }),
    ),
  },
  closed,
);

export const ArchiveImportQuery = Type.Object(
  {
    fileName: Type.Optional(fileName),
    task: Type.Optional(oneOf(TASKS)),
    startedUtcMs: Type.Optional(utcMs),
  },
  closed,
);
