import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { CAUTIONS, RETURN_CRITERIA_MAX } from '@ambipede/shared';
import type { ReturnCriterionState, ReturnEpisode, ReturnEpisodeView } from '@ambipede/shared';
import { callerOf } from '../access/guard.ts';
import { forAthlete } from '../access/rules.ts';
import { ApiProblem, conflict, notFound } from '../errors.ts';
import { AHEAD_MS_MAX } from '../history/annotation-rules.ts';
import { criterionState, mostLimitingFirst, stateToKeep } from '../history/return-state.ts';
import type { Db } from '../store/database.ts';
import {
  addReturnCriterion,
  addReturnDecision,
  addReturnEpisode,
  changeReturnCriterion,
  changeReturnEpisode,
  findReturnEpisode,
  listReturnCriteria,
  listReturnDecisions,
  listReturnEpisodes,
  removeReturnCriterion,
} from '../store/return-episodes.ts';
import { listTrialDifferencesOf } from '../store/session-history.ts';
import {
  CriterionChangeBody,
  CriterionParams,
  EpisodeChangeBody,
  EpisodeParams,
  NewCriterionBody,
  NewDecisionBody,
  NewEpisodeBody,
} from './return-episode-schemas.ts';
import { IdParams } from './schemas.ts';

const SEE = forAthlete('see-health');
const WRITE = forAthlete('write-health');
const LIST = '/api/athletes/:id/return-episodes';
const ONE = `${LIST}/:episodeId`;
const CRITERION = `${ONE}/criteria/:criterionId`;

export function returnEpisodeRoutes(db: Db, nowUtcMs: () => number): FastifyPluginAsyncTypebox {
  const requireEpisode = async ({ id, episodeId }: { id: string; episodeId: string }): Promise<ReturnEpisode> => {
    const episode = await findReturnEpisode(db, id, episodeId);
    if (!episode) throw notFound('return episode', LIST);
    return episode;
  };
  const refuseFuture = (onsetUtcMs = 0): void => {
    if (onsetUtcMs <= nowUtcMs() + AHEAD_MS_MAX) return;
    const message = 'onsetUtcMs lies in the future. Give the time of the injury, in ms since 1970 UTC.';
    throw new ApiProblem(400, 'invalid-return-episode', message);
  };
  /** As they stand now, the most limiting first. */
  const statesOf = async (episode: ReturnEpisode): Promise<ReturnCriterionState[]> => {
    const criteria = await listReturnCriteria(db, episode.id);
    const trials = await listTrialDifferencesOf(db, episode.athleteId, criteria);
    const states = criteria.map((criterion) => {
      const { task, metric } = criterion;
      const own = trials.filter((trial) => trial.task === task && trial.metric === metric);
      return criterionState(episode, criterion, own);
    });
    return mostLimitingFirst(states);
  };
  const createdUtcMs = (): number => Math.round(nowUtcMs());

  return async (app) => {
    app.get(LIST, { schema: { params: IdParams }, config: { access: SEE } }, async (request) => {
      return listReturnEpisodes(db, request.params.id);
    });
    app.post(
      LIST,
      { schema: { params: IdParams, body: NewEpisodeBody }, config: { access: WRITE } },
      async (request, reply) => {
        const athleteId = request.params.id;
        refuseFuture(request.body.onsetUtcMs);
        reply.code(201);
        return addReturnEpisode(db, { ...request.body, athleteId, createdUtcMs: createdUtcMs() });
      },
    );
    app.get(
      ONE,
      { schema: { params: EpisodeParams }, config: { access: SEE } },
      async (request): Promise<ReturnEpisodeView> => {
        const episode = await requireEpisode(request.params);
        const [criteria, decisions] = await Promise.all([statesOf(episode), listReturnDecisions(db, episode.id)]);
        return { ...episode, criteria, decisions, cautions: CAUTIONS };
      },
    );
    app.patch(
      ONE,
      { schema: { params: EpisodeParams, body: EpisodeChangeBody }, config: { access: WRITE } },
      async (request) => {
        refuseFuture(request.body.onsetUtcMs);
        const episode = await changeReturnEpisode(db, request.params.id, request.params.episodeId, request.body);
        if (!episode) throw notFound('return episode', LIST);
        return episode;
      },
    );
    app.post(
      `${ONE}/criteria`,
      { schema: { params: EpisodeParams, body: NewCriterionBody }, config: { access: WRITE } },
      async (request, reply) => {
        const { id: episodeId } = await requireEpisode(request.params);
        if ((await listReturnCriteria(db, episodeId)).length >= RETURN_CRITERIA_MAX)
          throw conflict('too-many-criteria', `An episode holds ${RETURN_CRITERIA_MAX} criteria. Remove one first.`);
        reply.code(201);
        return addReturnCriterion(db, { ...request.body, episodeId, createdUtcMs: createdUtcMs() });
      },
    );
    app.patch(
      CRITERION,
      { schema: { params: CriterionParams, body: CriterionChangeBody }, config: { access: WRITE } },
      async (request) => {
        const { id: episodeId } = await requireEpisode(request.params);
        const criterion = await changeReturnCriterion(db, episodeId, request.params.criterionId, request.body);
        if (!criterion) throw notFound('criterion', ONE);
        return criterion;
      },
    );
    app.delete(CRITERION, { schema: { params: CriterionParams }, config: { access: WRITE } }, async (request) => {
      const { id: episodeId } = await requireEpisode(request.params);
      const { criterionId } = request.params;
      if (!(await removeReturnCriterion(db, episodeId, criterionId))) throw notFound('criterion', ONE);
      return { id: criterionId };
    });
    app.post(
      `${ONE}/decisions`,
      { schema: { params: EpisodeParams, body: NewDecisionBody }, config: { access: WRITE } },
      async (request, reply) => {
        const episode = await requireEpisode(request.params);
        const { deciderName, decision, reason } = request.body;
        const caller = callerOf(request);
        const criteria = (await statesOf(episode)).map(stateToKeep);
        reply.code(201);
        return addReturnDecision(db, {
          episodeId: episode.id,
          criteria,
          decidedUtcMs: createdUtcMs(),
          deciderName: deciderName.trim(),
          decision: decision.trim(),
          reason: reason.trim(),
          recordedByName: caller === 'open' ? null : caller.name,
        });
      },
    );
  };
}
