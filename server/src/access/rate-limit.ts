/** So many requests a minute, and no more: one client must not take the server from the others. */
import fastifyRateLimit from '@fastify/rate-limit';
import type { FastifyInstance } from 'fastify';
import { ApiProblem } from '../errors.ts';

/** Of one address. The tablets of a club share one; each asks about twice a second. */
export const REQUESTS_A_MINUTE_MAX = 6000;
/** Addresses that are counted at a time; those seen longest ago are dropped. */
const ADDRESSES_MAX = 10_000;

export async function installRateLimit(app: FastifyInstance): Promise<void> {
  await app.register(fastifyRateLimit, {
    max: REQUESTS_A_MINUTE_MAX,
    timeWindow: '1 minute',
    cache: ADDRESSES_MAX,
    errorResponseBuilder: (_request, { ttl }) =>
      new ApiProblem(
        429,
        'too-many-requests',
        `Too many requests from this address. Wait ${Math.ceil(ttl / 1000)} s, then try again.`,
      ),
  });
}
