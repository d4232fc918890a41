import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { conflict, notFound } from '../errors.ts';
import type { Finaliser } from '../session/finaliser.ts';
import type { SessionService } from '../session/session-service.ts';
import type { Db } from '../store/database.ts';
import { findTrial, viewTrial } from '../store/trials.ts';
import { IdParams } from './schemas.ts';

export function trialRoutes(db: Db, service: SessionService, finaliser: Finaliser): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.post('/api/trials/:id/stop', { schema: { params: IdParams } }, (request) =>
      service.stopTrial(request.params.id),
    );
    app.get('/api/trials/:id', { schema: { params: IdParams } }, async (request) => {
      const trial = await viewTrial(db, request.params.id);
      if (!trial) throw notFound('trial', '/api/athletes/:id/trials');
      return trial;
    });
    // Angles are not stored: they are made anew from the raw samples, and come out the same.
    app.get('/api/trials/:id/result', { schema: { params: IdParams } }, async (request, reply) => {
      const trial = await findTrial(db, request.params.id);
      if (!trial) throw notFound('trial', '/api/athletes/:id/trials');
      if (trial.state === 'failed') throw conflict('no-result', trial.problem ?? 'This trial has no result.');
      if (trial.state !== 'final') {
        throw conflict(
          'not-final',
          'This trial has no final result yet. Stop it, and ask again when its state is final.',
        );
      }
      reply.type('application/json; charset=utf-8');
      return finaliser.resultJson(trial);
    });
  };
}
