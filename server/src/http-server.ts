/** The HTTP server before it has any route: what it takes in at most, how it tells errors, what it logs. */
import { TypeBoxValidatorCompiler } from '@fastify/type-provider-typebox';
import Fastify, { LogController } from 'fastify';
import type { FastifyBaseLogger, FastifyInstance } from 'fastify';
import { withoutPersonalData } from './ops/safe-log.ts';
import { installErrorHandler } from './routes/error-handler.ts';
import { installRequestLog } from './routes/request-log.ts';

const REQUEST_BYTES_MAX = 64 * 1024;
/** A client that sends slower than this is cut off (its head, and its whole request); looked for this often. */
const SLOWEST: SlowestClient = { headMsMax: 20_000, requestMsMax: 300_000, lookEveryMs: 5000 };
/** Open connections: sensors and dashboards have one each. */
const CONNECTIONS_MAX = 5000;
const TLS_VERSION_MIN = 'TLSv1.2';

export interface SlowestClient {
  headMsMax: number;
  requestMsMax: number;
  lookEveryMs: number;
}

export interface HttpServerOptions {
  logger: FastifyBaseLogger;
  /** PEM; null: plain HTTP. */
  tls: { cert: Buffer; key: Buffer } | null;
  behindProxy: boolean;
  slowest?: SlowestClient;
}

export function makeHttpServer({ logger, tls, behindProxy, slowest = SLOWEST }: HttpServerOptions): FastifyInstance {
  const looking = { connectionsCheckingInterval: slowest.lookEveryMs };
  const app = Fastify({
    loggerInstance: withoutPersonalData(logger),
    bodyLimit: REQUEST_BYTES_MAX,
    requestTimeout: slowest.requestMsMax,
    // A proxy on this machine says who comes; nobody else is believed.
    trustProxy: behindProxy ? 'loopback' : false,
    logController: new LogController({ disableRequestLogging: true }),
    ...(tls ? { https: { ...tls, ...looking, minVersion: TLS_VERSION_MIN } } : { http: looking }),
  }) as unknown as FastifyInstance;
  app.server.headersTimeout = slowest.headMsMax;
  app.server.maxConnections = CONNECTIONS_MAX;
  installErrorHandler(app);
  installRequestLog(app);
  app.setValidatorCompiler(TypeBoxValidatorCompiler);
  return app;
}
