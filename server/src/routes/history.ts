import { Type, type FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { STANCE_METRIC_KEYS, STANCE_RUNGS } from '@ambipede/shared';
import { sessionHistory } from '../history/session-history.ts';
import { listAnnotations } from '../store/annotations.ts';
import type { Db } from '../store/database.ts';
import { listTrialDifferences } from '../store/session-history.ts';
import { requireAthlete } from './require-athlete.ts';
import { IdParams, oneOf } from './schemas.ts';

const Query = Type.Object({ task: oneOf(STANCE_RUNGS), metric: oneOf(STANCE_METRIC_KEYS) });

export function historyRoutes(db: Db): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.get(
      '/api/athletes/:id/session-history',
      { schema: { params: IdParams, querystring: Query } },
      async (request) => {
        const { id: athleteId } = request.params;
        const { task, metric } = request.query;
        await requireAthlete(db, athleteId);
        const [trials, annotations] = await Promise.all([
          listTrialDifferences(db, athleteId, task, metric),
          listAnnotations(db, athleteId),
        ]);
        return sessionHistory({ athleteId, task, metric, trials, annotations });
      },
    );
  };
}
