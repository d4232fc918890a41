/** What requests may hold; the types of the answers are those of shared/src/api.ts. */
import { Type } from '@fastify/type-provider-typebox';
import {
  ATHLETE_NOTES_CHARACTERS_MAX,
  BODY_MASS_KG_MAX,
  BODY_MASS_KG_MIN,
  LEAD_IN_STEPS,
  NAME_CHARACTERS_MAX,
  PLACES,
  SIDES,
  STANCE_METRIC_KEYS,
  TASKS,
  TRIAL_NOTE_CHARACTERS_MAX,
  TRIAL_TAG_CHARACTERS_MAX,
  TRIAL_TAGS_MAX,
} from '@ambipede/shared';
import { DEVICE_ID_BYTES_MAX } from '@ambipede/firmware-protocol';

export const oneOf = <T extends string | null>(values: readonly T[]) => Type.Unsafe<T>({ enum: [...values] });

const ID = '^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$';
/** PostgreSQL stores any character but U+0000. */
export const TEXT = '^[^\\u0000]*$';
export const NOT_BLANK = '^[^\\u0000]*[^\\s\\u0000][^\\u0000]*$';
/** As in the hello of firmware-protocol/SPEC.md. */
const DEVICE_ID = '^[A-Za-z0-9._-]+$';

export function isId(text: string): boolean {
  return new RegExp(ID).test(text);
}

/** What a person is told instead of the pattern. */
export const IN_WORDS = new Map([
  [ID, 'must be an id as the API gave it'],
  [TEXT, 'must not hold the character U+0000'],
  [NOT_BLANK, 'must not be blank'],
  [DEVICE_ID, 'may hold letters, digits, dot, underscore and hyphen only'],
]);

export const Id = Type.String({ pattern: ID });
export const IdParams = Type.Object({ id: Id });
export const DeviceId = Type.String({ minLength: 1, maxLength: DEVICE_ID_BYTES_MAX, pattern: DEVICE_ID });
export const DeviceParams = Type.Object({ deviceId: DeviceId });
export const LeadInParams = Type.Object({ id: Id, step: oneOf(LEAD_IN_STEPS) });

const closed = { additionalProperties: false } as const;
const someOf = { additionalProperties: false, minProperties: 1 } as const;

const name = Type.String({ minLength: 1, maxLength: NAME_CHARACTERS_MAX, pattern: NOT_BLANK });
const athleteDetails = {
  bodyMassKg: Type.Optional(
    Type.Unsafe<number | null>({ type: ['number', 'null'], minimum: BODY_MASS_KG_MIN, maximum: BODY_MASS_KG_MAX }),
  ),
  dominantHand: Type.Optional(oneOf([...SIDES, 'both', null])),
  preferredTakeOffFoot: Type.Optional(oneOf([...SIDES, null])),
  notes: Type.Optional(Type.String({ maxLength: ATHLETE_NOTES_CHARACTERS_MAX, pattern: TEXT })),
};
export const NewAthleteBody = Type.Object({ name, ...athleteDetails }, closed);
export const AthleteChangeBody = Type.Object({ name: Type.Optional(name), ...athleteDetails }, someOf);

const tag = Type.String({ minLength: 1, maxLength: TRIAL_TAG_CHARACTERS_MAX, pattern: NOT_BLANK });
export const TrialChangeBody = Type.Object(
  {
    tags: Type.Optional(Type.Array(tag, { maxItems: TRIAL_TAGS_MAX })),
    note: Type.Optional(Type.String({ maxLength: TRIAL_NOTE_CHARACTERS_MAX, pattern: TEXT })),
    discarded: Type.Optional(Type.Boolean()),
  },
  someOf,
);
export const PlacementBody = Type.Object({ athleteId: Type.Union([Id, Type.Null()]), place: oneOf(PLACES) }, closed);
export const NewSessionBody = Type.Object({ athleteId: Id }, closed);
export const NewTrialBody = Type.Object({ task: oneOf(TASKS) }, closed);
export const HistoryQuery = Type.Object({ metric: oneOf(STANCE_METRIC_KEYS) });

/** Longer than any password that is taken, so that a hash is never asked of megabytes. */
const PASSWORD_TYPED_MAX = 1000;
export const PasswordTyped = Type.String({ minLength: 1, maxLength: PASSWORD_TYPED_MAX });
/** With the blanks that apps show between its digits. */
const CODE_TYPED_MAX = 20;
export const CodeTyped = Type.String({ minLength: 1, maxLength: CODE_TYPED_MAX });
