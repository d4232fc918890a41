/** What browsers are told to hold the pages to. */
import fastifyHelmet from '@fastify/helmet';
import type { FastifyInstance } from 'fastify';

const NOBODY = ["'none'"];
const OWN = ["'self'"];
/** Half a year (ASVS 4.0.3, 14.4.5, asks for enough; RFC 6797). */
const HSTS_S = 15_768_000;

/** @param secure the pages come over TLS: they are never again asked for without it */
export async function installHeaders(app: FastifyInstance, secure: boolean): Promise<void> {
  await app.register(fastifyHelmet, {
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        defaultSrc: NOBODY,
        scriptSrc: OWN,
        styleSrc: OWN,
        imgSrc: OWN,
        connectSrc: OWN,
        manifestSrc: OWN,
        workerSrc: OWN,
        baseUri: NOBODY,
        formAction: NOBODY,
        frameAncestors: NOBODY,
      },
    },
    strictTransportSecurity: secure && { maxAge: HSTS_S, includeSubDomains: false },
    referrerPolicy: { policy: 'no-referrer' },
    xFrameOptions: { action: 'deny' },
    crossOriginOpenerPolicy: { policy: 'same-origin' },
    crossOriginResourcePolicy: { policy: 'same-origin' },
    crossOriginEmbedderPolicy: false,
  });
  app.addHook('onSend', async (request, reply) => {
    reply.header('permissions-policy', 'camera=(), microphone=(), geolocation=(), usb=(), payment=()');
    // Answers are about people: no cache on the way or in the browser keeps them.
    // By the route too: an address can be spelt in many ways.
    const isOfApi = [request.url, request.routeOptions.url].some((url) => url?.startsWith('/api/'));
    if (isOfApi && !reply.hasHeader('cache-control')) reply.header('cache-control', 'no-store');
  });
}
