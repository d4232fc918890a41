/** Who cares for an athlete, and what the athlete has consented to. */
import { Type, type FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { CONSENT_PURPOSES, PERSON_NAME_CHARACTERS_MAX } from '@ambipede/shared';
import { callerOf } from '../access/guard.ts';
import { forAthlete } from '../access/rules.ts';
import { conflict, notFound } from '../errors.ts';
import { findAccount } from '../store/accounts.ts';
import { addCarer, addConsent, listCarers, listConsents, removeCarer, withdrawConsent } from '../store/care.ts';
import type { Db } from '../store/database.ts';
import { Id, IdParams, NOT_BLANK, oneOf } from './schemas.ts';

const person = Type.String({ minLength: 1, maxLength: PERSON_NAME_CHARACTERS_MAX, pattern: NOT_BLANK });
const CarerParams = Type.Object({ id: Id, accountId: Id });
const ConsentParams = Type.Object({ id: Id, consentId: Id });
const NewConsentBody = Type.Object(
  { purpose: oneOf(CONSENT_PURPOSES), givenByName: person, guardianOf: Type.Union([person, Type.Null()]) },
  { additionalProperties: false },
);
const WithdrawalBody = Type.Object({ byName: person }, { additionalProperties: false });

const CARERS = '/api/athletes/:id/carers';
const CONSENTS = '/api/athletes/:id/consents';

export interface CareRoutesDependencies {
  db: Db;
  nowUtcMs: () => number;
  onAccessChange: () => void;
}

export function careRoutes({ db, nowUtcMs, onAccessChange }: CareRoutesDependencies): FastifyPluginAsyncTypebox {
  const now = (): number => Math.round(nowUtcMs());
  return async (app) => {
    app.get(CARERS, { schema: { params: IdParams }, config: { access: forAthlete('consent') } }, (request) =>
      listCarers(db, request.params.id),
    );
    app.put(
      `${CARERS}/:accountId`,
      { schema: { params: CarerParams }, config: { access: forAthlete('assign') } },
      async (request) => {
        const { id, accountId } = request.params;
        const account = await findAccount(db, accountId);
        if (!account) throw notFound('account', '/api/accounts');
        if (!account.roles.some((role) => role === 'coach' || role === 'physio'))
          throw conflict(
            'not-a-carer',
            'Coaches and physios care for athletes. Give the account one of these roles first.',
          );
        await addCarer(db, id, accountId, now());
        onAccessChange();
        return listCarers(db, id);
      },
    );
    app.delete(
      `${CARERS}/:accountId`,
      { schema: { params: CarerParams }, config: { access: forAthlete('assign') } },
      async (request) => {
        const { id, accountId } = request.params;
        if (!(await removeCarer(db, id, accountId))) throw notFound('carer', CARERS);
        onAccessChange();
        return listCarers(db, id);
      },
    );
    app.get(CONSENTS, { schema: { params: IdParams }, config: { access: forAthlete('consent') } }, (request) =>
      listConsents(db, request.params.id),
    );
    app.post(
      CONSENTS,
      { schema: { params: IdParams, body: NewConsentBody }, config: { access: forAthlete('consent') } },
      async (request, reply) => {
        const { purpose, givenByName, guardianOf } = request.body;
        const caller = callerOf(request);
        const inForce = (await listConsents(db, request.params.id)).some(
          (each) => each.purpose === purpose && each.withdrawnUtcMs === null,
        );
        if (inForce) throw conflict('consent-in-force', 'This consent is in force already.');
        const consent = await addConsent(db, {
          ...{ athleteId: request.params.id, purpose, givenByName: givenByName.trim() },
          guardianOf: guardianOf === null ? null : guardianOf.trim(),
          givenUtcMs: now(),
          recordedByName: caller === 'open' ? null : caller.name,
          withdrawnUtcMs: null,
          withdrawnByName: null,
        });
        onAccessChange();
        reply.code(201);
        return consent;
      },
    );
    app.post(
      `${CONSENTS}/:consentId/withdrawal`,
      { schema: { params: ConsentParams, body: WithdrawalBody }, config: { access: forAthlete('consent') } },
      async (request) => {
        const { id, consentId } = request.params;
        const withdrawn = { withdrawnUtcMs: now(), withdrawnByName: request.body.byName.trim() };
        const consent = await withdrawConsent(db, id, consentId, withdrawn);
        if (!consent) throw notFound('consent in force', CONSENTS);
        onAccessChange();
        return consent;
      },
    );
  };
}
