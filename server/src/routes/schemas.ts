/** What requests may hold; the types of the answers are those of shared/src/api.ts. */
import { Type } from '@fastify/type-provider-typebox';
import { LEAD_IN_STEPS, PLACES, STANCE_METRIC_KEYS, TASKS } from '@ambipede/shared';
import { DEVICE_ID_BYTES_MAX } from '@ambipede/firmware-protocol';

export const NAME_CHARACTERS_MAX = 120;

const oneOf = <T extends string>(values: readonly T[]) => Type.Unsafe<T>(Type.Enum([...values]));

const ID = '^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$';
const NOT_BLANK = '\\S';
/** As in the hello of firmware-protocol/SPEC.md. */
const DEVICE_ID = '^[A-Za-z0-9._-]+$';

export function isId(text: string): boolean {
  return new RegExp(ID).test(text);
}

/** What a person is told instead of the pattern. */
export const IN_WORDS = new Map([
  [ID, 'must be an id as the API gave it'],
  [NOT_BLANK, 'must not be blank'],
  [DEVICE_ID, 'may hold letters, digits, dot, underscore and hyphen only'],
]);

export const Id = Type.String({ pattern: ID });
export const IdParams = Type.Object({ id: Id });
export const DeviceParams = Type.Object({
  deviceId: Type.String({ minLength: 1, maxLength: DEVICE_ID_BYTES_MAX, pattern: DEVICE_ID }),
});
export const LeadInParams = Type.Object({ id: Id, step: oneOf(LEAD_IN_STEPS) });

const closed = { additionalProperties: false } as const;
export const NewAthleteBody = Type.Object(
  { name: Type.String({ minLength: 1, maxLength: NAME_CHARACTERS_MAX, pattern: NOT_BLANK }) },
  closed,
);
export const PlacementBody = Type.Object({ athleteId: Type.Union([Id, Type.Null()]), place: oneOf(PLACES) }, closed);
export const NewSessionBody = Type.Object({ athleteId: Id }, closed);
export const NewTrialBody = Type.Object({ task: oneOf(TASKS) }, closed);
export const HistoryQuery = Type.Object({ metric: oneOf(STANCE_METRIC_KEYS) });
