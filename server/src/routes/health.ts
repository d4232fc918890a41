import type { FastifyPluginAsync } from 'fastify';
import type { Ingest } from '../ingest/ingest.ts';
import type { Sql } from '../store/database.ts';

/** 200 while samples can be stored, 503 otherwise. */
export function healthRoutes(sql: Sql, ingest: Ingest): FastifyPluginAsync {
  return async (app) => {
    app.get('/healthz', { logLevel: 'warn' }, async (_request, reply) => {
      const database = await sql`select 1`.then(
        () => 'ok',
        () => 'unreachable',
      );
      const storage = ingest.storageState();
      if (database !== 'ok' || storage.failing) reply.code(503);
      return { database, ...storage };
    });
  };
}
