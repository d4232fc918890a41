/** Entry of the thread that reads what is imported: a request in, a plan or a fault out. */
import { setPriority } from 'node:os';
import { parentPort } from 'node:worker_threads';
import { Compile } from 'typebox/compile';
import { IMPORT_FILE_NAME_CHARACTERS_MAX, type CsvImport } from '@ambipede/shared';
import { RecordingError } from '../exchange/recording-error.ts';
import { CsvImportBody } from '../routes/import-schemas.ts';
import type { ImportReply, ImportRequest, SchemaFault } from './import-thread.ts';
import { planOfArchive, planOfCsv } from './import-work.ts';

if (!parentPort) throw new Error('import-worker.ts runs as a worker thread only');
const port = parentPort;

/** As for the final analysis: where both share a core, the packets come first. */
const NICENESS = 19;
if (process.platform === 'linux') setPriority(NICENESS);

port.once('message', (request: ImportRequest) => {
  void answer(request)
    .catch((error: unknown): ImportReply => {
      if (error instanceof RecordingError) return { fault: error.message };
      throw error;
    })
    .then((reply) => port.postMessage(reply));
});

async function answer(request: ImportRequest): Promise<ImportReply> {
  const { nowUtcMs, deviceIds } = request;
  const context = { nowUtcMs, deviceIds };
  if (request.kind === 'motion-bids') {
    const { body: bytes, task, startedUtcMs, fileName } = request;
    const plan = await planOfArchive({ bytes, task, startedUtcMs }, context);
    return { plan, importedFrom: fileName, hasMass: true };
  }
  const asked = parsed(request.body);
  const validator = Compile(CsvImportBody);
  if (!validator.Check(asked)) return { validation: [...validator.Errors(asked)] as unknown as SchemaFault[] };
  const given = asked as CsvImport;
  const names = given.sensors.filter(({ text }) => text !== null).map(({ fileName }) => fileName);
  const importedFrom = names.join(', ').slice(0, IMPORT_FILE_NAME_CHARACTERS_MAX);
  return { plan: planOfCsv(given, context), importedFrom, hasMass: false };
}

function parsed(body: Uint8Array): unknown {
  try {
    return JSON.parse(new TextDecoder().decode(body));
  } catch {
    throw new RecordingError('The request is not JSON. Send it as shared/src/imports.ts describes.');
  }
}
