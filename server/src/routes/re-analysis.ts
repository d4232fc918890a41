import { Type, type FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { RE_ANALYSIS_SCOPES } from '@ambipede/shared';
import { KEEPERS, STAFF } from '../access/rules.ts';
import type { ReAnalysis } from '../session/re-analysis.ts';
import { oneOf } from './schemas.ts';

const NewReAnalysisBody = Type.Object({ scope: oneOf(RE_ANALYSIS_SCOPES) }, { additionalProperties: false });

/** All stored trials analysed again: shared/src/re-analysis.ts. */
export function reAnalysisRoutes(reAnalysis: ReAnalysis): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.get('/api/re-analysis', { config: { access: STAFF } }, () => reAnalysis.view());
    app.post(
      '/api/re-analysis',
      { schema: { body: NewReAnalysisBody }, config: { access: KEEPERS } },
      async (request, reply) => {
        reply.code(202);
        return reAnalysis.start(request.body.scope);
      },
    );
    app.post('/api/re-analysis/cancel', { config: { access: KEEPERS } }, async (_request, reply) => {
      reply.code(202);
      return reAnalysis.cancel();
    });
  };
}
