import { Type, type FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { STANCE_METRIC_KEYS, STANCE_RUNGS } from '@ambipede/shared';
import type { Access } from '../access/access.ts';
import { callerOf } from '../access/guard.ts';
import { shownAnnotations } from '../access/health-notes.ts';
import { forAthlete } from '../access/rules.ts';
import { sessionHistory } from '../history/session-history.ts';
import { listAnnotations } from '../store/annotations.ts';
import type { Db } from '../store/database.ts';
import { listTrialDifferences } from '../store/session-history.ts';
import { IdParams, oneOf } from './schemas.ts';

const Query = Type.Object({ task: oneOf(STANCE_RUNGS), metric: oneOf(STANCE_METRIC_KEYS) });

export function historyRoutes(db: Db, access: Access): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.get(
      '/api/athletes/:id/session-history',
      { schema: { params: IdParams, querystring: Query }, config: { access: forAthlete('see') } },
      async (request) => {
        const { id: athleteId } = request.params;
        const { task, metric } = request.query;
        const [trials, annotations, rights] = await Promise.all([
          listTrialDifferences(db, athleteId, task, metric),
          listAnnotations(db, athleteId),
          access.rightsOn(callerOf(request), athleteId),
        ]);
        // The baseline ends before an injury, whoever asks: a wrong one would be worse. The notes themselves are not for everybody.
        const history = sessionHistory({ athleteId, task, metric, trials, annotations });
        return { ...history, annotations: shownAnnotations(history.annotations, rights) };
      },
    );
  };
}
