import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import type { AthleteSummary } from '@ambipede/shared';
import type { Access } from '../access/access.ts';
import { callerOf } from '../access/guard.ts';
import { hasRole } from '../access/identity.ts';
import { SIGNED_IN, STAFF, forAthlete } from '../access/rules.ts';
import type { SessionService } from '../session/session-service.ts';
import { addCarer } from '../store/care.ts';
import type { Db } from '../store/database.ts';
import { listHistory, listTrialsOfAthlete } from '../store/trials.ts';
import { AthleteChangeBody, HistoryQuery, IdParams, NewAthleteBody } from './schemas.ts';

const SEE = forAthlete('see');

export function athleteRoutes(
  db: Db,
  access: Access,
  service: SessionService,
  nowUtcMs: () => number,
): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.get('/api/athletes', { config: { access: SIGNED_IN } }, async (request) => {
      const [athletes, rightsOn] = await Promise.all([service.athletes(), access.rightsOnEach(callerOf(request))]);
      return athletes
        .filter(({ id }) => rightsOn(id).has('know'))
        .map((athlete) => (rightsOn(athlete.id).has('see') ? athlete : withoutDetails(athlete)));
    });
    app.post(
      '/api/athletes',
      { schema: { body: NewAthleteBody }, config: { access: STAFF } },
      async (request, reply) => {
        const caller = callerOf(request);
        const athlete = await service.addAthlete(request.body);
        // Whoever takes an athlete in cares for them.
        if (caller !== 'open' && hasRole(caller, ['coach', 'physio']))
          await addCarer(db, athlete.id, caller.accountId, Math.round(nowUtcMs()));
        reply.code(201);
        return athlete;
      },
    );
    app.patch(
      '/api/athletes/:id',
      { schema: { params: IdParams, body: AthleteChangeBody }, config: { access: forAthlete('measure') } },
      (request) => service.changeAthlete(request.params.id, request.body),
    );
    app.get('/api/athletes/:id/trials', { schema: { params: IdParams }, config: { access: SEE } }, async (request) => {
      return listTrialsOfAthlete(db, request.params.id);
    });
    app.get(
      '/api/athletes/:id/history',
      { schema: { params: IdParams, querystring: HistoryQuery }, config: { access: SEE } },
      async (request) => {
        return listHistory(db, request.params.id, request.query.metric);
      },
    );
  };
}

/** For whoever may know the athlete and not see more: body and notes are not theirs to read. */
function withoutDetails(athlete: AthleteSummary): AthleteSummary {
  return { ...athlete, bodyMassKg: null, dominantHand: null, preferredTakeOffFoot: null, notes: '' };
}
