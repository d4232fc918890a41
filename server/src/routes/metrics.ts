import type { FastifyPluginAsync } from 'fastify';
import type { Registry } from 'prom-client';

/** The text format of Prometheus. */
export function metricsRoutes(registry: Registry): FastifyPluginAsync {
  return async (app) => {
    app.get('/metrics', { logLevel: 'warn' }, async (_request, reply) => {
      reply.type(registry.contentType);
      return registry.metrics();
    });
  };
}
