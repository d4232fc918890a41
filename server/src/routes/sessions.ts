import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { athleteInBody, athleteOfSession, forAthlete } from '../access/rules.ts';
import type { SessionService } from '../session/session-service.ts';
import { IdParams, LeadInParams, NewSessionBody, NewTrialBody } from './schemas.ts';

const MEASURE = forAthlete('measure', athleteOfSession);

export function sessionRoutes(service: SessionService): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.post(
      '/api/sessions',
      { schema: { body: NewSessionBody }, config: { access: forAthlete('measure', athleteInBody) } },
      async (request, reply) => {
        reply.code(201);
        return service.startSession(request.body.athleteId);
      },
    );
    app.get(
      '/api/sessions/:id',
      { schema: { params: IdParams }, config: { access: forAthlete('see', athleteOfSession) } },
      (request) => service.session(request.params.id),
    );
    app.post('/api/sessions/:id/end', { schema: { params: IdParams }, config: { access: MEASURE } }, (request) =>
      service.endSession(request.params.id),
    );
    app.post(
      '/api/sessions/:id/lead-in/:step/start',
      { schema: { params: LeadInParams }, config: { access: MEASURE } },
      (request) => service.startLeadIn(request.params.id, request.params.step),
    );
    app.post(
      '/api/sessions/:id/lead-in/:step/stop',
      { schema: { params: LeadInParams }, config: { access: MEASURE } },
      (request) => service.stopLeadIn(request.params.id, request.params.step),
    );
    app.post(
      '/api/sessions/:id/trials',
      { schema: { params: IdParams, body: NewTrialBody }, config: { access: MEASURE } },
      async (request, reply) => {
        reply.code(201);
        return service.startTrial(request.params.id, request.body.task);
      },
    );
  };
}
