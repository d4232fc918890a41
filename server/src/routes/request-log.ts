/** One line per request that changed something or failed: route, status, time. No address, no name, no body. */
import type { FastifyInstance } from 'fastify';

export function installRequestLog(app: FastifyInstance): void {
  app.addHook('onResponse', async (request, reply) => {
    if (request.method === 'GET' && reply.statusCode < 400) return;
    const { method, routeOptions } = request;
    request.log.info(
      { method, route: routeOptions.url ?? null, status: reply.statusCode, ms: Math.round(reply.elapsedTime) },
      'request',
    );
  });
}
