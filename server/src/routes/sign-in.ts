/** Signing in and out, and the account of whoever is signed in. */
import { Type, type FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { LOGIN_CHARACTERS_MAX, type Me } from '@ambipede/shared';
import type { AuditLog } from '../access/audit-log.ts';
import { browserInWords } from '../access/browser-words.ts';
import { accountOf, callerOf } from '../access/guard.ts';
import { OWN_ACCOUNT, openToAll } from '../access/rules.ts';
import { CODE_USED_BEFORE } from '../access/proof-check.ts';
import type { SignInCookie } from '../access/sign-in-cookie.ts';
import type { SignInService } from '../access/sign-in-service.ts';
import { ApiProblem, conflict } from '../errors.ts';
import { findAccount } from '../store/accounts.ts';
import type { Db } from '../store/database.ts';
import { CodeTyped, PasswordTyped } from './schemas.ts';

/** Of one address, in a minute. A club's tablets share one. */
export const SIGN_INS_A_MINUTE_MAX = 30;
export const PROOFS_A_MINUTE = { max: SIGN_INS_A_MINUTE_MAX, timeWindow: '1 minute' } as const;

const SignInBody = Type.Object(
  {
    login: Type.String({ minLength: 1, maxLength: LOGIN_CHARACTERS_MAX, pattern: '^[^\\u0000]*$' }),
    password: PasswordTyped,
    code: Type.Optional(CodeTyped),
  },
  { additionalProperties: false },
);
const PasswordBody = Type.Object(
  { password: PasswordTyped, newPassword: PasswordTyped },
  { additionalProperties: false },
);

const OPEN: Me = {
  access: 'open',
  accountId: null,
  name: '',
  roles: ['keeper', 'coach', 'physio'],
  athleteId: null,
  passwordIsFirst: false,
  secondFactor: 'off',
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
  return async (app) => {
    app.post(
      '/api/sign-in',
      {
        schema: { body: SignInBody },
        config: { access: openToAll('whoever is not signed in has to be able to'), rateLimit: PROOFS_A_MINUTE },
      },
      async (request, reply): Promise<Me> => {
        try {
          const browser = browserInWords(request.headers['user-agent']);
          const { account, token } = await service().signIn(request.body, browser);
          cookie.set(reply, token);
          await audit.noteAccount(account.id, 'sign-in');
          return service().meOf(account);
        } catch (error) {
          if (error instanceof ApiProblem)
            await audit.noteAccount(null, error.code === CODE_USED_BEFORE ? USED_CODE : 'sign-in', error.status);
          throw error;
        }
      },
    );
    app.post('/api/sign-out', { config: { access: OWN_ACCOUNT } }, async (request, reply) => {
      const identity = accountOf(request);
      await service().signOut(identity);
      cookie.clear(reply);
      // Nothing of this site stays in the browser.
      reply.header('clear-site-data', '"cache", "storage"');
      await audit.noteAccount(identity.accountId, 'sign-out');
      onAccessChange();
      return { signedOut: true };
    });
    app.get('/api/me', { config: { access: OWN_ACCOUNT } }, async (request): Promise<Me> => {
      const caller = callerOf(request);
      if (caller === 'open') return OPEN;
      const account = await findAccount(db, caller.accountId);
      return account ? service().meOf(account) : Promise.reject(new Error('the account of a sign-in is gone'));
    });
    app.post(
      '/api/me/password',
      { schema: { body: PasswordBody }, config: { access: OWN_ACCOUNT, rateLimit: PROOFS_A_MINUTE } },
      async (request, reply): Promise<Me> => {
        const identity = accountOf(request);
        const { password, newPassword } = request.body;
        const account = await service().changePassword(identity, password, newPassword);
        // A new value at once: whoever had the old one has nothing.
        const { token } = await service().open(account.id, browserInWords(request.headers['user-agent']));
        await service().signOut(identity);
        cookie.set(reply, token);
        await audit.noteAccount(identity.accountId, 'password changed');
        await onPasswordChanged();
        onAccessChange();
        return service().meOf(account);
      },
    );
  };
}

/** As it is written into the audit: somebody knows the password, and saw a code. */
const USED_CODE = 'sign-in with a code used before';
