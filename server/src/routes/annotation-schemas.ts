/** What requests about annotations may hold; the types of the answers are those of shared/src/annotations.ts. */
import { Type } from '@fastify/type-provider-typebox';
import {
  ANNOTATION_KINDS,
  ANNOTATION_TEXT_CHARACTERS_MAX,
  NAME_CHARACTERS_MAX,
  PAIN_LEVEL_MAX,
  PAIN_LEVEL_MIN,
  SIDES,
} from '@ambipede/shared';
import { Id, NOT_BLANK, TEXT, oneOf } from './schemas.ts';

const said = {
  side: Type.Optional(oneOf([...SIDES, 'both', null])),
  painLevel: Type.Optional(
    Type.Unsafe<number | null>({ type: ['integer', 'null'], minimum: PAIN_LEVEL_MIN, maximum: PAIN_LEVEL_MAX }),
  ),
  text: Type.Optional(Type.String({ maxLength: ANNOTATION_TEXT_CHARACTERS_MAX, pattern: TEXT })),
};
const atUtcMs = Type.Integer({ minimum: 0, maximum: Number.MAX_SAFE_INTEGER });
const authorName = Type.String({ minLength: 1, maxLength: NAME_CHARACTERS_MAX, pattern: NOT_BLANK });

export const NewAnnotationBody = Type.Object(
  { kind: oneOf(ANNOTATION_KINDS), atUtcMs, authorName, ...said },
  { additionalProperties: false },
);
export const AnnotationChangeBody = Type.Object(
  { atUtcMs: Type.Optional(atUtcMs), authorName: Type.Optional(authorName), ...said },
  { additionalProperties: false, minProperties: 1 },
);
export const AnnotationParams = Type.Object({ id: Id, annotationId: Id });
