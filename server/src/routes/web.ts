/** The built dashboard. Any other address that a browser opens is a page of it. */
import fastifyStatic from '@fastify/static';
import { existsSync } from 'node:fs';
import path from 'node:path';
import type { FastifyInstance } from 'fastify';
import type { ApiError } from '@ambipede/shared';
import { openToAll } from '../access/rules.ts';

export async function installWeb(app: FastifyInstance, webDir: string): Promise<void> {
  const built = existsSync(path.join(webDir, 'index.html'));
  if (built) {
    await app.register(async (files) => {
      files.addHook('onRoute', (route) => {
        route.config = { ...route.config, access: openToAll('the pages hold nothing of anybody') };
      });
      await files.register(fastifyStatic, {
        root: webDir,
        // The build lays a gzipped copy beside each text file.
        preCompressed: true,
        setHeaders: (reply, file) => {
          // Names under assets/ change with their content; the page that names them does not.
          const fixed = file.includes(`${path.sep}assets${path.sep}`);
          void reply.header('cache-control', fixed ? 'public, max-age=31536000, immutable' : 'no-cache');
        },
      });
    });
  }
  app.setNotFoundHandler((request, reply) => {
    const page =
      request.method === 'GET' &&
      !request.url.startsWith('/api/') &&
      (request.headers.accept ?? '').includes('text/html');
    if (page && built) return reply.sendFile('index.html');
    const message = page
      ? 'The dashboard has not been built. Run `npm run build`, then start the server again.'
      : `There is nothing at ${request.method} ${request.url.split('?')[0]}. The API is listed in shared/src/api.ts.`;
    return reply.code(404).send({ error: { code: 'not-found', message } } satisfies ApiError);
  });
}
