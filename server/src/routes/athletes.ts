import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import type { SessionService } from '../session/session-service.ts';
import type { Db } from '../store/database.ts';
import { listHistory, listTrialsOfAthlete } from '../store/trials.ts';
import { requireAthlete } from './require-athlete.ts';
import { AthleteChangeBody, HistoryQuery, IdParams, NewAthleteBody } from './schemas.ts';

export function athleteRoutes(db: Db, service: SessionService): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.get('/api/athletes', () => service.athletes());
    app.post('/api/athletes', { schema: { body: NewAthleteBody } }, async (request, reply) => {
      reply.code(201);
      return service.addAthlete(request.body);
    });
    app.patch('/api/athletes/:id', { schema: { params: IdParams, body: AthleteChangeBody } }, (request) =>
      service.changeAthlete(request.params.id, request.body),
    );
    app.get('/api/athletes/:id/trials', { schema: { params: IdParams } }, async (request) => {
      await requireAthlete(db, request.params.id);
      return listTrialsOfAthlete(db, request.params.id);
    });
    app.get(
      '/api/athletes/:id/history',
      { schema: { params: IdParams, querystring: HistoryQuery } },
      async (request) => {
        await requireAthlete(db, request.params.id);
        return listHistory(db, request.params.id, request.query.metric);
      },
    );
  };
}
