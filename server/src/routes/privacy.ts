/** Taking out and erasing what is stored about an athlete, and how long things are kept. docs/privacy.md */
import { Readable } from 'node:stream';
import { Type, type FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { NAME_CHARACTERS_MAX, RETENTION_MONTHS_MAX } from '@ambipede/shared';
import { KEEPERS, forAthlete } from '../access/rules.ts';
import { pseudonymOf } from '../exchange/pseudonym.ts';
import type { ErasureService } from '../session/erasure.ts';
import { everythingTar } from '../session/everything.ts';
import type { RetentionService } from '../session/retention.ts';
import type { Db } from '../store/database.ts';
import { IdParams, TEXT } from './schemas.ts';

const ErasureBody = Type.Object(
  { name: Type.String({ minLength: 1, maxLength: NAME_CHARACTERS_MAX, pattern: TEXT }) },
  { additionalProperties: false },
);
const RetentionBody = Type.Object(
  { months: Type.Union([Type.Integer({ minimum: 1, maximum: RETENTION_MONTHS_MAX }), Type.Null()]) },
  { additionalProperties: false },
);
const RETENTION = '/api/retention';

export interface PrivacyRoutesDependencies {
  db: Db;
  erasure: ErasureService;
  retention: RetentionService;
  nowUtcMs: () => number;
}

export function privacyRoutes({
  db,
  erasure,
  retention,
  nowUtcMs,
}: PrivacyRoutesDependencies): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.get(
      '/api/athletes/:id/export/everything.tar',
      { schema: { params: IdParams }, config: { access: forAthlete('export-all') } },
      async (request, reply) => {
        const { id } = request.params;
        const folder = `athlete-${pseudonymOf('athlete', id)}`;
        reply
          .type('application/x-tar')
          .header('content-disposition', `attachment; filename="${folder}.tar"`)
          .header('cache-control', 'no-store');
        return reply.send(Readable.from(everythingTar(db, id, folder, nowUtcMs())));
      },
    );
    app.delete(
      '/api/athletes/:id',
      { schema: { params: IdParams, body: ErasureBody }, config: { access: forAthlete('erase') } },
      (request) => erasure.erase(request.params.id, request.body.name),
    );
    app.get(RETENTION, { config: { access: KEEPERS } }, () => retention.find());
    app.put(RETENTION, { schema: { body: RetentionBody }, config: { access: KEEPERS } }, (request) =>
      retention.set(request.body.months),
    );
  };
}
