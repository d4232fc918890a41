/**
 * Stands before every route: who asks (by the cookie), whether the request comes from a page of this server, and whether the rule of the
 * route lets it through. What touches an athlete, and what is refused, is written into the audit before it is answered.
 */
import fastifyCookie from '@fastify/cookie';
import type { FastifyInstance, FastifyReply, FastifyRequest, RouteOptions } from 'fastify';
import { NOT_SIGNED_IN, PASSWORD_IS_FIRST, SECOND_FACTOR_IS_DUE } from '@ambipede/shared';
import { ApiProblem, conflict, notFound } from '../errors.ts';
import { isId } from '../routes/schemas.ts';
import type { Access } from './access.ts';
import type { AuditLog } from './audit-log.ts';
import { hasRole, type Caller, type Identity } from './identity.ts';
import type { AccessRule } from './rules.ts';
import { comesFromOwnPage, isLoopbackHost } from './same-site.ts';
import type { SignInCookie } from './sign-in-cookie.ts';
import type { SignInService } from './sign-in-service.ts';

declare module 'fastify' {
  interface FastifyContextConfig {
    access?: AccessRule;
  }
  interface FastifyInstance {
    /** Every route with its rule. */
    accessRules(): { method: string; url: string; rule: AccessRule | undefined }[];
  }
  interface FastifyRequest {
    /** Null on routes that are open to all. */
    caller: Caller | null;
    /** The caller may do this with the athlete that it is about. */
    passed: boolean;
  }
}

export interface GuardDependencies {
  access: Access;
  audit: AuditLog;
  /** Null: the demonstration, open to whoever is on this machine. */
  signIns: SignInService | null;
  cookie: SignInCookie;
  publicUrl: string | null;
}

type AthleteRule = Extract<AccessRule, { kind: 'athlete' }>;

const READS = new Set(['GET', 'HEAD', 'OPTIONS']);
const LOOPBACK_ADDRESS = /^(127\.|::1$|::ffff:127\.)/;

/** Call it before any route is added. A route without a rule ends the start. */
export async function installGuard(app: FastifyInstance, deps: GuardDependencies): Promise<void> {
  const { access, audit, signIns, cookie, publicUrl } = deps;
  await app.register(fastifyCookie);
  app.decorateRequest('caller', null);
  app.decorateRequest('passed', false);
  const routes: RouteOptions[] = [];
  app.addHook('onRoute', (route) => void routes.push(route));
  // When all are known: hooks of a plugin may still set the rule of its routes.
  app.addHook('onReady', async () => {
    for (const { method, url, config } of routes)
      if (!config?.access) throw new Error(`The route ${String(method)} ${url} has no access rule (access/rules.ts).`);
  });
  app.decorate('accessRules', () =>
    routes.map(({ method, url, config }) => ({ method: String(method), url, rule: config?.access })),
  );

  const recognise = async (request: FastifyRequest, reply: FastifyReply): Promise<Caller | null> => {
    if (signIns === null) {
      // A foreign name that was made to point to this machine must not reach the demonstration.
      return isLoopbackHost(request.headers) ? 'open' : null;
    }
    const known = await signIns.recognise(request.cookies[cookie.name]);
    if (known?.newToken) cookie.set(reply, known.newToken);
    return known?.identity ?? null;
  };

  app.addHook('onRequest', async (request, reply) => {
    const rule = request.routeOptions.config.access;
    // No route: the answer is 404, and touches nothing.
    if (request.is404 || !rule) return;
    const mayBeUnsaid = signIns === null || (rule.kind === 'public' && rule.fromPrograms);
    if (!READS.has(request.method) && !comesFromOwnPage(request.headers, mayBeUnsaid, publicUrl))
      throw new ApiProblem(
        403,
        'other-origin',
        'The request does not come from a page of this server. Send the header Origin with the address of the server; behind a proxy, set PUBLIC_URL.',
      );
    if (rule.kind === 'public') return;
    if (
      rule.kind === 'machine' &&
      LOOPBACK_ADDRESS.test(request.ip) &&
      request.headers['x-forwarded-for'] === undefined
    )
      return;
    const caller = await recognise(request, reply);
    if (caller === null)
      throw new ApiProblem(401, NOT_SIGNED_IN, 'You are not signed in, or no longer. Sign in, then try again.');
    request.caller = caller;
    if (caller !== 'open' && !(rule.kind === 'signed-in' && rule.beforeSetUp)) requireSetUp(caller);
    const roles = rule.kind === 'machine' ? (['keeper'] as const) : rule.kind === 'roles' ? rule.roles : null;
    if (roles !== null && !hasRole(caller, roles)) {
      await note(request, null, 403);
      throw new ApiProblem(403, 'not-allowed', `This is for an account with the role ${roles.join(' or ')}.`);
    }
    if (roles !== null) await note(request, null, null);
    // Before the body is read: megabytes of somebody who may not send them stay outside. An id that is none goes on to be refused as such.
    const { id } = request.params as { id?: string };
    if (rule.kind === 'athlete' && !rule.of.inBody && isId(id ?? '')) await pass(request, rule);
  });

  // Whose data it is may be said in the body, which is read by now.
  app.addHook('preHandler', async (request) => {
    const rule = request.routeOptions.config.access;
    if (!request.is404 && rule?.kind === 'athlete' && !request.passed) await pass(request, rule);
  });

  async function pass(request: FastifyRequest, { right, of, roles }: AthleteRule): Promise<void> {
    const caller = callerOf(request);
    const athleteId = await of.find(request, access.lookups);
    if (athleteId === null) throw notFound(of.what, of.list);
    if (athleteId !== 'none') {
      try {
        await access.require(caller, athleteId, right, of);
      } catch (error) {
        if (error instanceof ApiProblem) await note(request, athleteId, error.status);
        throw error;
      }
      await note(request, athleteId, null);
    } else {
      if (!hasRole(caller, roles)) throw new ApiProblem(403, 'not-allowed', 'Your account may not do this.');
      await note(request, null, null);
    }
    request.passed = true;
  }

  function note(request: FastifyRequest, athleteId: string | null, refusedStatus: number | null): Promise<void> {
    const { caller, method, routeOptions } = request;
    const action = `${method} ${routeOptions.url ?? ''}`;
    return audit.note({ caller, action, athleteId, isRead: READS.has(method), refusedStatus });
  }
}

function requireSetUp({ passwordIsFirst, secondFactorIsDue }: Identity): void {
  if (passwordIsFirst)
    throw new ApiProblem(
      403,
      PASSWORD_IS_FIRST,
      'Your password was given to you by somebody else. Change it first, then go on.',
    );
  if (secondFactorIsDue)
    throw new ApiProblem(
      403,
      SECOND_FACTOR_IS_DUE,
      'A keeper of a server that others reach needs a second factor. Set it up first, then go on.',
    );
}

/** Of a request behind a rule that asks for a sign-in. */
export function callerOf({ caller }: FastifyRequest): Caller {
  if (caller === null) throw new Error('this route is open to all: it has no caller');
  return caller;
}

/** Of a request about one's own account. @throws ApiProblem 409 in the demonstration */
export function accountOf(request: FastifyRequest): Identity {
  const caller = callerOf(request);
  if (caller !== 'open') return caller;
  throw conflict('no-accounts', 'This is a demonstration without accounts.');
}
