/** Files for other programs. What each holds: docs/exchange.md. */
import { Readable } from 'node:stream';
import type { FastifyPluginAsyncTypebox } from '@fastify/type-provider-typebox';
import type { FastifyReply } from 'fastify';
import type { TrialSummary } from '@ambipede/shared';
import { athleteOfTrial, forAthlete } from '../access/rules.ts';
import { conflict, notFound, type ApiProblem } from '../errors.ts';
import { fhirBundle } from '../exchange/fhir-bundle.ts';
import { stancesCsv } from '../exchange/stances-csv.ts';
import { pseudonymOf } from '../exchange/pseudonym.ts';
import { summariesOf } from '../session/everything.ts';
import type { Finaliser } from '../session/finaliser.ts';
import type { Db } from '../store/database.ts';
import { findFinalResult } from '../store/final-result.ts';
import { listStances } from '../store/stances.ts';
import { findTrial, listTrialsOfSession } from '../store/trials.ts';
import { IdParams } from './schemas.ts';

const SEE_TRIAL = forAthlete('see', athleteOfTrial);

export function exportRoutes(db: Db, finaliser: Finaliser): FastifyPluginAsyncTypebox {
  const requireTrial = async (id: string): Promise<TrialSummary> => {
    const trial = await findTrial(db, id);
    if (!trial) throw notFound('trial', '/api/athletes/:id/trials');
    return trial;
  };
  return async (app) => {
    app.get(
      '/api/trials/:id/export/motion-bids',
      { schema: { params: IdParams }, config: { access: SEE_TRIAL } },
      async (request, reply) => {
        const trial = await requireTrial(request.params.id);
        if (trial.state !== 'final' && trial.state !== 'failed')
          throw conflict(
            'not-final',
            'Samples of this trial are still coming. Stop it, and ask again when its state is final.',
          );
        const folder = fileStem(trial);
        const pieces = await finaliser.motionBidsTar(trial, {
          folder,
          subject: pseudonymOf('athlete', trial.athleteId),
          session: pseudonymOf('session', trial.sessionId),
          run: await runOf(db, trial),
        });
        attach(reply, 'application/x-tar', `${folder}.tar`);
        reply.header(
          'content-length',
          pieces.reduce((sum, piece) => sum + piece.byteLength, 0),
        );
        return reply.send(Readable.from(pieces));
      },
    );
    app.get(
      '/api/trials/:id/export/stances.csv',
      { schema: { params: IdParams }, config: { access: SEE_TRIAL } },
      async (request, reply) => {
        const trial = await requireTrial(request.params.id);
        if (trial.state !== 'final') throw withoutResult(trial);
        attach(reply, CSV_TYPE, `${fileStem(trial)}-stances.csv`);
        return reply.send(Readable.from(stancesCsv(trial, await listStances(db, trial.id))));
      },
    );
    app.get(
      '/api/trials/:id/export/fhir.json',
      { schema: { params: IdParams }, config: { access: SEE_TRIAL } },
      async (request, reply) => {
        const trial = await requireTrial(request.params.id);
        const result = await findFinalResult(db, trial.id);
        if (result === null) throw withoutResult(trial);
        attach(reply, FHIR_TYPE, `${fileStem(trial)}-fhir.json`);
        return reply.send(JSON.stringify(fhirBundle(trial, result)));
      },
    );
    app.get(
      '/api/athletes/:id/export/summaries.csv',
      { schema: { params: IdParams }, config: { access: forAthlete('see') } },
      async (request, reply) => {
        const { id } = request.params;
        attach(reply, CSV_TYPE, `${pseudonymOf('athlete', id)}-summaries.csv`);
        return reply.send(Readable.from(summariesOf(db, id)));
      },
    );
  };
}

const CSV_TYPE = 'text/csv; charset=utf-8; header=present';
const FHIR_TYPE = 'application/fhir+json; fhirVersion=4.0';

function withoutResult(trial: TrialSummary): ApiProblem {
  if (trial.state === 'failed') return conflict('no-result', trial.problem ?? 'This trial has no result.');
  return conflict('not-final', 'This trial has no final result yet. Stop it, and ask again when its state is final.');
}

/** Says nothing of the person. */
function fileStem({ task, id }: TrialSummary): string {
  return `${task}-${id.slice(0, 8)}`;
}

/** Which of its task in its session, from 1. */
async function runOf(db: Db, trial: TrialSummary): Promise<number> {
  const ofTask = (await listTrialsOfSession(db, trial.sessionId)).filter(({ task }) => task === trial.task);
  return ofTask.findIndex(({ id }) => id === trial.id) + 1;
}

function attach(reply: FastifyReply, type: string, name: string): void {
  reply.type(type).header('content-disposition', `attachment; filename="${name}"`).header('cache-control', 'no-store');
}
