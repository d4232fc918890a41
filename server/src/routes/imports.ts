/** Recordings from elsewhere: what a file holds, and a file into an athlete's history. See docs/exchange.md. */
import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import type { preParsingAsyncHookHandler } from 'fastify';
import { IMPORT_ARCHIVE_BYTES_MAX, IMPORT_CSV_BYTES_MAX } from '@ambipede/shared';
import { STAFF, forAthlete } from '../access/rules.ts';
import { ApiProblem } from '../errors.ts';
import { previewOf } from '../exchange/csv-preview.ts';
import { RecordingError } from '../exchange/recording-error.ts';
import { IMPORTS_BUSY, IMPORTS_WAITING_MAX, type ImportService } from '../session/import-service.ts';
import { ArchiveImportQuery, ImportPreviewBody } from './import-schemas.ts';
import { IdParams } from './schemas.ts';

/** As JSON, in which a character can take six bytes. */
const PREVIEW_BYTES_MAX = 512 * 1024;
const TAR_TYPE = 'application/x-tar';
const TAR_NAME_DEFAULT = 'archive.tar';
const MEASURE = forAthlete('measure');

export function importRoutes(service: ImportService): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.post(
      '/api/import/preview',
      { schema: { body: ImportPreviewBody }, bodyLimit: PREVIEW_BYTES_MAX, config: { access: STAFF } },
      async (request) => {
        try {
          return previewOf(request.body);
        } catch (error) {
          if (error instanceof RecordingError) throw new ApiProblem(400, 'unreadable-recording', error.message);
          throw error;
        }
      },
    );
    const preParsing = requireRoom();
    await app.register(csvRoute(service, preParsing));
    await app.register(archiveRoute(service, preParsing));
  };
}

/** Takes the body as bytes: they are parsed, and held to the schema, in the thread that reads them. */
function csvRoute(service: ImportService, preParsing: preParsingAsyncHookHandler): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.removeContentTypeParser('application/json');
    app.addContentTypeParser(
      'application/json',
      { parseAs: 'buffer', bodyLimit: IMPORT_CSV_BYTES_MAX },
      (_request, body, done) => done(null, body),
    );
    app.post(
      '/api/athletes/:id/imports/csv',
      { schema: { params: IdParams }, bodyLimit: IMPORT_CSV_BYTES_MAX, preParsing, config: { access: MEASURE } },
      async (request, reply) => {
        const answer = await service.csv(request.params.id, bytesOf(request.body, 'JSON'));
        reply.code(201);
        return answer;
      },
    );
  };
}

function archiveRoute(service: ImportService, preParsing: preParsingAsyncHookHandler): FastifyPluginAsyncTypebox {
  return async (app) => {
    app.removeContentTypeParser(['application/json', 'text/plain']);
    app.addContentTypeParser(
      TAR_TYPE,
      { parseAs: 'buffer', bodyLimit: IMPORT_ARCHIVE_BYTES_MAX },
      (_request, body, done) => done(null, body),
    );
    app.post(
      '/api/athletes/:id/imports/motion-bids',
      {
        schema: { params: IdParams, querystring: ArchiveImportQuery },
        bodyLimit: IMPORT_ARCHIVE_BYTES_MAX,
        preParsing,
        config: { access: MEASURE },
      },
      async (request, reply) => {
        const { fileName = TAR_NAME_DEFAULT, task = null, startedUtcMs = null } = request.query;
        const asked = { fileName, task, startedUtcMs };
        const answer = await service.motionBids(request.params.id, bytesOf(request.body, TAR_TYPE), asked);
        reply.code(201);
        return answer;
      },
    );
  };
}

/** Counts from before the body is read, which is in memory as a whole however slowly it comes. */
function requireRoom(): preParsingAsyncHookHandler {
  let coming = 0;
  return async (_request, reply, payload) => {
    // Whoever has gone meanwhile would be counted for ever.
    if (coming >= IMPORTS_WAITING_MAX || reply.raw.destroyed) throw IMPORTS_BUSY;
    coming += 1;
    reply.raw.once('close', () => (coming -= 1));
    return payload;
  };
}

function bytesOf(body: unknown, type: string): Uint8Array {
  if (body instanceof Uint8Array && body.byteLength > 0) return body;
  throw new ApiProblem(400, 'invalid-request', `The request has no body. Send the recording as ${type}.`);
}
