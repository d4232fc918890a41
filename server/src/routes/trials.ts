import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import type { TrialSummary } from '@ambipede/shared';
import { athleteOfTrial, forAthlete } from '../access/rules.ts';
import { conflict, notFound } from '../errors.ts';
import type { Finaliser } from '../session/finaliser.ts';
import type { SessionService } from '../session/session-service.ts';
import type { Db } from '../store/database.ts';
import { findTrial, findWaveforms, viewTrial } from '../store/trials.ts';
import { IdParams, TrialChangeBody } from './schemas.ts';

const SEE = forAthlete('see', athleteOfTrial);
const MEASURE = forAthlete('measure', athleteOfTrial);

export function trialRoutes(db: Db, service: SessionService, finaliser: Finaliser): FastifyPluginAsyncTypebox {
  const requireFinal = async (id: string): Promise<TrialSummary> => {
    const trial = await findTrial(db, id);
    if (!trial) throw notFound('trial', '/api/athletes/:id/trials');
    if (trial.state === 'failed') throw conflict('no-result', trial.problem ?? 'This trial has no result.');
    if (trial.state === 'final') return trial;
    throw conflict('not-final', 'This trial has no final result yet. Stop it, and ask again when its state is final.');
  };
  return async (app) => {
    app.post('/api/trials/:id/stop', { schema: { params: IdParams }, config: { access: MEASURE } }, (request) =>
      service.stopTrial(request.params.id),
    );
    app.patch(
      '/api/trials/:id',
      { schema: { params: IdParams, body: TrialChangeBody }, config: { access: MEASURE } },
      (request) => service.changeTrial(request.params.id, request.body),
    );
    app.get('/api/trials/:id', { schema: { params: IdParams }, config: { access: SEE } }, async (request) => {
      const trial = await viewTrial(db, request.params.id);
      if (!trial) throw notFound('trial', '/api/athletes/:id/trials');
      return trial;
    });
    app.get('/api/trials/:id/waveforms', { schema: { params: IdParams }, config: { access: SEE } }, async (request) => {
      const trial = await requireFinal(request.params.id);
      const waveforms = await findWaveforms(db, trial.id);
      if (waveforms) return waveforms;
      throw conflict(
        'no-waveforms',
        `The result of this trial was stored without waveforms. Ask for /api/trials/${trial.id}/result, which makes them anew.`,
      );
    });
    // Angles are not stored: they are made anew from the raw samples, and come out the same.
    app.get(
      '/api/trials/:id/result',
      { schema: { params: IdParams }, config: { access: SEE } },
      async (request, reply) => {
        const trial = await requireFinal(request.params.id);
        reply.type('application/json; charset=utf-8');
        return finaliser.resultJson(trial);
      },
    );
  };
}
