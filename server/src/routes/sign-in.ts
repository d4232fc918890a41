/** Signing in and out, and the account of whoever is signed in. */
import { Type, type FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { LOGIN_CHARACTERS_MAX, type Me } from '@ambipede/shared';
import type { AuditLog } from '../access/audit-log.ts';
import { callerOf } from '../access/guard.ts';
import type { Identity } from '../access/identity.ts';
import { OWN_ACCOUNT, openToAll } from '../access/rules.ts';
import type { SignInCookie } from '../access/sign-in-cookie.ts';
import { meOf, type SignInService } from '../access/sign-in-service.ts';
import { ApiProblem, conflict } from '../errors.ts';
import { findAccount } from '../store/accounts.ts';
import type { Db } from '../store/database.ts';

/** Of one address, in a minute. A club's tablets share one. */
export const SIGN_INS_A_MINUTE_MAX = 30;
/** Longer than any password that is taken, so that a hash is never asked of megabytes. */
const PASSWORD_TYPED_MAX = 1000;

const typed = Type.String({ minLength: 1, maxLength: PASSWORD_TYPED_MAX });
const SignInBody = Type.Object(
  { login: Type.String({ minLength: 1, maxLength: LOGIN_CHARACTERS_MAX, pattern: '^[^\\u0000]*$' }), password: typed },
  { additionalProperties: false },
);
const PasswordBody = Type.Object({ password: typed, newPassword: typed }, { additionalProperties: false });

const OPEN: Me = {
  access: 'open',
  accountId: null,
  name: '',
  roles: ['keeper', 'coach', 'physio'],
  athleteId: null,
  passwordIsFirst: false,
};

export interface SignInRoutesDependencies {
  db: Db;
  /** Null: the demonstration, which has no accounts. */
  signIns: SignInService | null;
  cookie: SignInCookie;
  audit: AuditLog;
  /** Sign-ins have ended, or rights have changed: open feeds are looked at again. */
  onAccessChange: () => void;
  /** A password that was given first has been changed. */
  onPasswordChanged: () => Promise<void>;
}

export function signInRoutes(deps: SignInRoutesDependencies): FastifyPluginAsyncTypebox {
  const { db, signIns, cookie, audit, onAccessChange, onPasswordChanged } = deps;
  const service = (): SignInService => {
    if (signIns) return signIns;
    throw conflict('no-accounts', 'This is a demonstration without accounts: go on without signing in.');
  };
  const signedIn = (request: Parameters<typeof callerOf>[0]): Identity => {
    const caller = callerOf(request);
    if (caller !== 'open') return caller;
    throw conflict('no-accounts', 'This is a demonstration without accounts.');
  };
  return async (app) => {
    const perMinute = { max: SIGN_INS_A_MINUTE_MAX, timeWindow: '1 minute' };
    app.post(
      '/api/sign-in',
      {
        schema: { body: SignInBody },
        config: { access: openToAll('whoever is not signed in has to be able to'), rateLimit: perMinute },
      },
      async (request, reply): Promise<Me> => {
        const { login, password } = request.body;
        try {
          const { account, token, signInId } = await service().signIn(login, password);
          cookie.set(reply, token);
          await note(signInId, account.id, 'sign-in', null);
          return meOf(account);
        } catch (error) {
          if (error instanceof ApiProblem) await note('', null, 'sign-in', error.status);
          throw error;
        }
      },
    );
    app.post('/api/sign-out', { config: { access: OWN_ACCOUNT } }, async (request, reply) => {
      const identity = signedIn(request);
      await service().signOut(identity);
      cookie.clear(reply);
      // Nothing of this site stays in the browser.
      reply.header('clear-site-data', '"cache", "storage"');
      await note(identity.signInId, identity.accountId, 'sign-out', null);
      onAccessChange();
      return { signedOut: true };
    });
    app.get('/api/me', { config: { access: OWN_ACCOUNT } }, async (request): Promise<Me> => {
      const caller = callerOf(request);
      if (caller === 'open') return OPEN;
      const account = await findAccount(db, caller.accountId);
      return account ? meOf(account) : Promise.reject(new Error('the account of a sign-in is gone'));
    });
    app.post(
      '/api/me/password',
      { schema: { body: PasswordBody }, config: { access: OWN_ACCOUNT, rateLimit: perMinute } },
      async (request, reply): Promise<Me> => {
        const identity = signedIn(request);
        const { password, newPassword } = request.body;
        const account = await service().changePassword(identity, password, newPassword);
        // A new value at once: whoever had the old one has nothing.
        const { token } = await service().signIn(account.login, newPassword);
        await service().signOut(identity);
        cookie.set(reply, token);
        await note(identity.signInId, identity.accountId, 'password changed', null);
        await onPasswordChanged();
        onAccessChange();
        return meOf(account);
      },
    );
  };

  function note(
    signInId: string,
    accountId: string | null,
    action: string,
    refusedStatus: number | null,
  ): Promise<void> {
    const blank = { name: '', roles: [], athleteId: null, passwordIsFirst: false };
    const caller = accountId === null ? null : { ...blank, accountId, signInId };
    return audit.note({ caller, action, athleteId: null, isRead: false, refusedStatus });
  }
}
