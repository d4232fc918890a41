import { Type, type FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { STANCE_METRIC_KEYS, STANCE_RUNGS } from '@ambipede/shared';
import type { SessionComparison } from '@ambipede/shared';
import { forAthlete } from '../access/rules.ts';
import { ApiProblem, conflict } from '../errors.ts';
import { sessionComparison } from '../history/comparison.ts';
import { ladderPairs, taskLadder } from '../history/ladder.ts';
import { listAnnotations } from '../store/annotations.ts';
import type { Db } from '../store/database.ts';
import { listTrialDifferences, listTrialDifferencesOf } from '../store/session-history.ts';
import { listStandTrials } from '../store/stands.ts';
import { HistoryQuery, Id, IdParams, oneOf } from './schemas.ts';

const ComparisonQuery = Type.Object({
  task: oneOf(STANCE_RUNGS),
  metric: oneOf(STANCE_METRIC_KEYS),
  from: Id,
  to: Id,
});

/** From task to task, and from session to session. */
export function ladderRoutes(db: Db): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.get(
      '/api/athletes/:id/ladder',
      { schema: { params: IdParams, querystring: HistoryQuery }, config: { access: forAthlete('see') } },
      async (request) => {
        const { id: athleteId } = request.params;
        const { metric } = request.query;
        const [trials, stands] = await Promise.all([
          listTrialDifferencesOf(db, athleteId, ladderPairs(metric)),
          listStandTrials(db, athleteId),
        ]);
        return taskLadder({ athleteId, metric, trials, stands });
      },
    );
    app.get(
      '/api/athletes/:id/comparison',
      { schema: { params: IdParams, querystring: ComparisonQuery }, config: { access: forAthlete('see') } },
      async (request): Promise<SessionComparison> => {
        const { id: athleteId } = request.params;
        const { task, metric, from, to } = request.query;
        if (from === to) throw new ApiProblem(400, 'same-session', 'from and to are one session. Give two of them.');
        const [trials, annotations] = await Promise.all([
          listTrialDifferences(db, athleteId, task, metric),
          listAnnotations(db, athleteId),
        ]);
        const found = sessionComparison({ athleteId, task, metric, trials, annotations, from, to });
        if (!('fault' in found)) return found;
        if (found.fault === 'versions')
          throw conflict(
            'versions-differ',
            `The two sessions were analysed by different versions (${found.said}), which are not compared. Have the older one analysed again on the page #/re-analysis, or choose another.`,
          );
        const which = found.fault === 'from not measured' ? 'from' : 'to';
        throw new ApiProblem(
          404,
          'not-measured',
          `The session given as ${which} has no difference of this athlete in this task and metric. Choose one that the session history lists.`,
        );
      },
    );
  };
}
