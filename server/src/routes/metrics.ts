import type { FastifyPluginAsync } from 'fastify';
import { MACHINE } from '../access/rules.ts';
import type { Registry } from 'prom-client';

/** The text format of Prometheus. */
export function metricsRoutes(registry: Registry): FastifyPluginAsync {
  return async (app) => {
    app.get('/metrics', { logLevel: 'warn', config: { access: MACHINE } }, async (_request, reply) => {
      reply.type(registry.contentType);
      return registry.metrics();
    });
  };
}
