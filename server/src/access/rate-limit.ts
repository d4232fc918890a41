/** So many requests a minute, and no more: one client must not take the server from the others. */
import fastifyRateLimit from '@fastify/rate-limit';
import type { FastifyInstance } from 'fastify';
import { ApiProblem } from '../errors.ts';

/** Of one address. The tablets of a club share one; each asks about twice a second. */
export const REQUESTS_A_MINUTE_MAX = 6000;
/** Addresses that are counted at a time; those seen longest ago are dropped. */
const ADDRESSES_MAX = 10_000;

/** Call it before the guard: whoever is refused is counted too, so that forged cookies are not free. */
export async function installRateLimit(app: FastifyInstance): Promise<void> {
  const tooMany = (ttlMs: number): ApiProblem =>
    new ApiProblem(
      429,
      'too-many-requests',
      `Too many requests from this address. Wait ${Math.ceil(ttlMs / 1000)} s, then try again.`,
    );
  await app.register(fastifyRateLimit, {
    // Routes with a limit of their own have that one as well.
    global: false,
    max: REQUESTS_A_MINUTE_MAX,
    timeWindow: '1 minute',
    cache: ADDRESSES_MAX,
    errorResponseBuilder: (_request, { ttl }) => tooMany(ttl),
  });
  const count = app.createRateLimit();
  app.addHook('onRequest', async (request, reply) => {
    const limit = await count(request);
    if (limit.isAllowed || !limit.isExceeded) return;
    reply.header('retry-after', limit.ttlInSeconds);
    throw tooMany(limit.ttl);
  });
}
