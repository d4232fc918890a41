/** One-time codes beside the password, turned on and off by the owner of the account. */
import { Type, type FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import type { Me, SecondFactorOffer } from '@ambipede/shared';
import type { AuditLog } from '../access/audit-log.ts';
import { accountOf } from '../access/guard.ts';
import { OWN_ACCOUNT } from '../access/rules.ts';
import type { SecondFactorService } from '../access/second-factor-service.ts';
import type { SignInService } from '../access/sign-in-service.ts';
import { CodeTyped, PasswordTyped } from './schemas.ts';
import { PROOFS_A_MINUTE } from './sign-in.ts';

const PATH = '/api/me/second-factor';
const OfferBody = Type.Object({ password: PasswordTyped }, { additionalProperties: false });
const OnBody = Type.Object({ code: CodeTyped }, { additionalProperties: false });
const OffBody = Type.Object({ password: PasswordTyped, code: CodeTyped }, { additionalProperties: false });
const config = { access: OWN_ACCOUNT, rateLimit: PROOFS_A_MINUTE };

export interface SecondFactorRoutesDependencies {
  signIns: SignInService;
  secondFactor: SecondFactorService;
  audit: AuditLog;
  onAccessChange: () => void;
}

export function secondFactorRoutes(deps: SecondFactorRoutesDependencies): FastifyPluginAsyncTypebox {
  const { signIns, secondFactor, audit, onAccessChange } = deps;
  return async (app) => {
    app.post(PATH, { schema: { body: OfferBody }, config }, async (request, reply): Promise<SecondFactorOffer> => {
      const offer = await secondFactor.offer(accountOf(request), request.body.password);
      reply.header('cache-control', 'no-store');
      return offer;
    });
    app.put(PATH, { schema: { body: OnBody }, config }, async (request): Promise<Me> => {
      const identity = accountOf(request);
      const account = await secondFactor.turnOn(identity, request.body.code);
      await audit.noteAccount(identity.accountId, 'second factor on');
      onAccessChange();
      return signIns.meOf(account);
    });
    app.delete(PATH, { schema: { body: OffBody }, config }, async (request): Promise<Me> => {
      const identity = accountOf(request);
      const { password, code } = request.body;
      const account = await secondFactor.turnOff(identity, password, code);
      await audit.noteAccount(identity.accountId, 'second factor off');
      onAccessChange();
      return signIns.meOf(account);
    });
  };
}
