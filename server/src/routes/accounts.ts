/** The keeper's list of people who may sign in, and the audit. */
import { Type, type FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import { ACCOUNTS_MAX, LOGIN_CHARACTERS_MAX, PERSON_NAME_CHARACTERS_MAX, ROLES } from '@ambipede/shared';
import type { Account, AccountWithPassword } from '@ambipede/shared';
import { hashOfPassword, newFirstPassword } from '../access/passwords.ts';
import { KEEPERS } from '../access/rules.ts';
import { ApiProblem, conflict, notFound } from '../errors.ts';
import { addAccount, changeAccount, countAccounts, findAccount, listAccounts, setPassword } from '../store/accounts.ts';
import { removeSecondFactor } from '../store/second-factor.ts';
import { athleteExists } from '../store/athletes.ts';
import { pageOfAudit } from '../store/audit.ts';
import type { Db } from '../store/database.ts';
import { Id, IdParams, NOT_BLANK, oneOf } from './schemas.ts';

const personName = Type.String({ minLength: 1, maxLength: PERSON_NAME_CHARACTERS_MAX, pattern: NOT_BLANK });
/** Nothing that looks like another login, or like markup. */
const LOGIN = '^[a-z0-9][a-z0-9._@+-]*$';
const roles = Type.Array(oneOf(ROLES), { minItems: 1, maxItems: ROLES.length, uniqueItems: true });
const NewAccountBody = Type.Object(
  {
    login: Type.String({ minLength: 2, maxLength: LOGIN_CHARACTERS_MAX, pattern: LOGIN }),
    name: personName,
    roles,
    athleteId: Type.Union([Id, Type.Null()]),
  },
  { additionalProperties: false },
);
const AccountChangeBody = Type.Object(
  { name: Type.Optional(personName), roles: Type.Optional(roles), closed: Type.Optional(Type.Boolean()) },
  { additionalProperties: false, minProperties: 1 },
);
const AuditQuery = Type.Object({ athlete: Type.Optional(Id), before: Type.Optional(Type.Integer({ minimum: 1 })) });

const LIST = '/api/accounts';

export interface AccountRoutesDependencies {
  db: Db;
  nowUtcMs: () => number;
  onAccessChange: () => void;
}

export function accountRoutes({ db, nowUtcMs, onAccessChange }: AccountRoutesDependencies): FastifyPluginAsyncTypebox {
  const requireAccount = async (id: string): Promise<Account> => {
    const account = await findAccount(db, id);
    if (!account) throw notFound('account', LIST);
    return account;
  };
  return async (app) => {
    app.get(LIST, { config: { access: KEEPERS } }, () => listAccounts(db));
    app.post(
      LIST,
      { schema: { body: NewAccountBody }, config: { access: KEEPERS } },
      async (request, reply): Promise<AccountWithPassword> => {
        const { login, name, roles, athleteId } = request.body;
        refuseMismatch(roles.includes('athlete'), athleteId);
        if (athleteId !== null && !(await athleteExists(db, athleteId))) throw notFound('athlete', '/api/athletes');
        if ((await countAccounts(db)) >= ACCOUNTS_MAX)
          throw conflict('too-many-accounts', `There are ${ACCOUNTS_MAX} accounts, which is as many as can be.`);
        const firstPassword = newFirstPassword();
        const account = await addAccount(db, {
          ...{ login, name: name.trim(), roles, athleteId },
          createdUtcMs: Math.round(nowUtcMs()),
          closedUtcMs: null,
          passwordHash: await hashOfPassword(firstPassword),
          passwordIsFirst: true,
        });
        if (!account) throw conflict('login-taken', `The login ${login} is taken. Choose another.`);
        reply.code(201).header('cache-control', 'no-store');
        return { ...account, firstPassword };
      },
    );
    app.patch(
      `${LIST}/:id`,
      { schema: { params: IdParams, body: AccountChangeBody }, config: { access: KEEPERS } },
      async (request): Promise<Account> => {
        const { id } = request.params;
        const { name, roles, closed } = request.body;
        const account = await requireAccount(id);
        if (roles !== undefined) refuseMismatch(roles.includes('athlete'), account.athleteId);
        const changed = await changeAccount(db, id, {
          ...(name !== undefined && { name: name.trim() }),
          ...(roles !== undefined && { roles }),
          ...(closed !== undefined && { closedUtcMs: closed ? (account.closedUtcMs ?? Math.round(nowUtcMs())) : null }),
        });
        onAccessChange();
        if (!changed)
          throw conflict('last-keeper', 'It is the only open account of a keeper. Make another keeper first.');
        return requireAccount(id);
      },
    );
    app.post(
      `${LIST}/:id/password`,
      { schema: { params: IdParams }, config: { access: KEEPERS } },
      async (request, reply): Promise<AccountWithPassword> => {
        await requireAccount(request.params.id);
        const firstPassword = newFirstPassword();
        const passwordHash = await hashOfPassword(firstPassword);
        const given = { passwordHash, passwordIsFirst: true, setUtcMs: Math.round(nowUtcMs()) };
        const account = await setPassword(db, request.params.id, given, null);
        if (!account) throw notFound('account', LIST);
        onAccessChange();
        reply.header('cache-control', 'no-store');
        return { ...account, firstPassword };
      },
    );
    app.delete(
      `${LIST}/:id/second-factor`,
      { schema: { params: IdParams }, config: { access: KEEPERS } },
      async (request): Promise<Account> => {
        const { id, login } = await requireAccount(request.params.id);
        if (!(await removeSecondFactor(db, id, null)))
          throw conflict('second-factor-is-off', `The account ${login} has no second factor.`);
        onAccessChange();
        return requireAccount(id);
      },
    );
    app.get('/api/audit', { schema: { querystring: AuditQuery }, config: { access: KEEPERS } }, (request) => {
      const { athlete, before } = request.query;
      return pageOfAudit(db, {
        ...(athlete !== undefined && { athleteId: athlete }),
        ...(before !== undefined && { beforeId: before }),
      });
    });
  };
}

function refuseMismatch(isAthlete: boolean, athleteId: string | null): void {
  if (isAthlete === (athleteId !== null)) return;
  throw new ApiProblem(
    400,
    'invalid-account',
    'An account with the role athlete belongs to one athlete: give athleteId. One without that role belongs to none: give null.',
  );
}
