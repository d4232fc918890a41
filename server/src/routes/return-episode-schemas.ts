/** What requests about return episodes may hold; the types of the answers are those of shared/src/return-episode.ts. */
import { Type } from '@fastify/type-provider-typebox';
import {
  NAME_CHARACTERS_MAX,
  RETURN_BASELINES,
  RETURN_DECISION_CHARACTERS_MAX,
  RETURN_LIMIT_MAX,
  RETURN_QUESTION_CHARACTERS_MAX,
  RETURN_SESSIONS_IN_A_ROW_MAX,
  SIDES,
  STANCE_METRIC_KEYS,
  STANCE_RUNGS,
} from '@ambipede/shared';
import { Id, NOT_BLANK, oneOf } from './schemas.ts';

const closed = { additionalProperties: false } as const;
const someOf = { additionalProperties: false, minProperties: 1 } as const;
const words = (maxLength: number) => Type.String({ minLength: 1, maxLength, pattern: NOT_BLANK });

const onsetUtcMs = Type.Integer({ minimum: 0, maximum: Number.MAX_SAFE_INTEGER });
const affectedSide = oneOf(SIDES);
const question = words(RETURN_QUESTION_CHARACTERS_MAX);
const baseline = oneOf(RETURN_BASELINES);
export const NewEpisodeBody = Type.Object({ onsetUtcMs, affectedSide, question, baseline }, closed);
export const EpisodeChangeBody = Type.Partial(Type.Object({ onsetUtcMs, affectedSide, question, baseline }), someOf);

const task = oneOf(STANCE_RUNGS);
const metric = oneOf(STANCE_METRIC_KEYS);
const limit = Type.Number({ exclusiveMinimum: 0, maximum: RETURN_LIMIT_MAX });
const sessionsInARow = Type.Integer({ minimum: 1, maximum: RETURN_SESSIONS_IN_A_ROW_MAX });
export const NewCriterionBody = Type.Object({ task, metric, limit, sessionsInARow }, closed);
export const CriterionChangeBody = Type.Partial(Type.Object({ task, metric, limit, sessionsInARow }), someOf);

export const NewDecisionBody = Type.Object(
  {
    deciderName: words(NAME_CHARACTERS_MAX),
    decision: words(RETURN_DECISION_CHARACTERS_MAX),
    reason: words(RETURN_DECISION_CHARACTERS_MAX),
  },
  closed,
);

export const EpisodeParams = Type.Object({ id: Id, episodeId: Id });
export const CriterionParams = Type.Object({ id: Id, episodeId: Id, criterionId: Id });
