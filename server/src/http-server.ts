/** The HTTP server before it has any route: what it takes in at most, how it tells errors, what it logs. */
import { TypeBoxValidatorCompiler } from '@fastify/type-provider-typebox';
import Fastify, { LogController } from 'fastify';
import type { FastifyBaseLogger, FastifyInstance } from 'fastify';
import { withoutPersonalData } from './ops/safe-log.ts';
import { installErrorHandler } from './routes/error-handler.ts';
import { installRequestLog } from './routes/request-log.ts';

const REQUEST_BYTES_MAX = 64 * 1024;
/** A client that sends slower than this is cut off (its head, and its whole request). */
const HEAD_MS_MAX = 20_000;
const REQUEST_MS_MAX = 300_000;
/** Open connections: sensors and dashboards have one each. */
const CONNECTIONS_MAX = 5000;
const TLS_VERSION_MIN = 'TLSv1.2';

export interface HttpServerOptions {
  logger: FastifyBaseLogger;
  /** PEM; null: plain HTTP. */
  tls: { cert: Buffer; key: Buffer } | null;
  behindProxy: boolean;
}

export function makeHttpServer({ logger, tls, behindProxy }: HttpServerOptions): FastifyInstance {
  const app = Fastify({
    loggerInstance: withoutPersonalData(logger),
    bodyLimit: REQUEST_BYTES_MAX,
    requestTimeout: REQUEST_MS_MAX,
    // A proxy on this machine says who comes; nobody else is believed.
    trustProxy: behindProxy ? 'loopback' : false,
    logController: new LogController({ disableRequestLogging: true }),
    ...(tls && { https: { ...tls, minVersion: TLS_VERSION_MIN } }),
  }) as unknown as FastifyInstance;
  app.server.headersTimeout = HEAD_MS_MAX;
  app.server.maxConnections = CONNECTIONS_MAX;
  installErrorHandler(app);
  installRequestLog(app);
  app.setValidatorCompiler(TypeBoxValidatorCompiler);
  return app;
}
