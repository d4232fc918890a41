/** The browsers in which one is signed in oneself. */
import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import type { OwnSignIn } from '@ambipede/shared';
import type { AuditLog } from '../access/audit-log.ts';
import { accountOf } from '../access/guard.ts';
import { SIGNED_IN } from '../access/rules.ts';
import type { SignInService } from '../access/sign-in-service.ts';
import { notFound } from '../errors.ts';
import { IdParams } from './schemas.ts';

const LIST = '/api/me/sign-ins';

export interface OwnSignInRoutesDependencies {
  signIns: SignInService;
  audit: AuditLog;
  onAccessChange: () => void;
}

export function ownSignInRoutes(deps: OwnSignInRoutesDependencies): FastifyPluginAsyncTypebox {
  const { signIns, audit, onAccessChange } = deps;
  return async (app) => {
    app.get(LIST, { config: { access: SIGNED_IN } }, (request): Promise<OwnSignIn[]> =>
      signIns.list(accountOf(request)),
    );
    app.delete(LIST, { config: { access: SIGNED_IN } }, async (request): Promise<OwnSignIn[]> => {
      const identity = accountOf(request);
      await audit.noteAccount(identity.accountId, 'other sign-ins ended');
      await signIns.endOthers(identity);
      onAccessChange();
      return signIns.list(identity);
    });
    app.delete(
      `${LIST}/:id`,
      { schema: { params: IdParams }, config: { access: SIGNED_IN } },
      async (request): Promise<OwnSignIn[]> => {
        const identity = accountOf(request);
        if (!(await signIns.end(identity, request.params.id))) throw notFound('sign-in', LIST);
        await audit.noteAccount(identity.accountId, 'sign-in ended');
        onAccessChange();
        return signIns.list(identity);
      },
    );
  };
}
