/** Everything that is stored about an athlete, as one archive in open formats. What each file holds: docs/exchange.md. */
import { CAUTIONS } from '@ambipede/shared';
import { rawCsv } from '../exchange/raw-csv.ts';
import { stancesCsv } from '../exchange/stances-csv.ts';
import { SUMMARIES_HEAD, summaryLines } from '../exchange/summaries-csv.ts';
import { tarEnd, tarEntry } from '../exchange/tar.ts';
import { listAnnotations } from '../store/annotations.ts';
import { findAthlete } from '../store/athletes.ts';
import { pageOfAudit } from '../store/audit.ts';
import { listCarers, listConsents } from '../store/care.ts';
import type { Db } from '../store/database.ts';
import { pageOfAthletesBatches } from '../store/raw-batches.ts';
import { listReturnCriteria, listReturnDecisions, listReturnEpisodes } from '../store/return-episodes.ts';
import { listLeadIn, listMountings, listSessions, sessionDevices } from '../store/sessions.ts';
import { listStances } from '../store/stances.ts';
import { pageOfSummaries, type TrialDifferences } from '../store/trial-summaries.ts';
import { findWaveforms, listTrialsOfAthlete, listTrialsOfSession, viewTrial } from '../store/trials.ts';
import type { RawBatch } from '../ingest/raw-log.ts';

type File = [path: string, content: string | readonly Uint8Array[]];

/**
 * A tar archive, piece by piece as it is read; no more than one file of it is in memory.
 * @param folder that everything in it lies in
 */
export async function* everythingTar(
  db: Db,
  athleteId: string,
  folder: string,
  nowUtcMs: number,
): AsyncGenerator<Uint8Array> {
  for await (const [path, content] of filesOf(db, athleteId, nowUtcMs)) {
    const parts = typeof content === 'string' ? [new TextEncoder().encode(content)] : content;
    yield* tarEntry({ path: `${folder}/${path}`, parts }, nowUtcMs / 1000);
  }
  yield tarEnd();
}

async function* filesOf(db: Db, athleteId: string, nowUtcMs: number): AsyncGenerator<File> {
  yield ['README.txt', readme(nowUtcMs)];
  yield ['athlete.json', json(await findAthlete(db, athleteId))];
  yield ['consents.json', json(await listConsents(db, athleteId))];
  yield ['carers.json', json(await listCarers(db, athleteId))];
  yield ['annotations.json', json(await listAnnotations(db, athleteId))];
  yield ['return-episodes.json', json(await episodesOf(db, athleteId))];
  for (const session of await listSessions(db, athleteId)) {
    const { id } = session;
    const [sensors, leadIn, mounting, trials] = await Promise.all([
      sessionDevices(db, id),
      listLeadIn(db, id),
      listMountings(db, id),
      listTrialsOfSession(db, id),
    ]);
    const trialIds = trials.map((trial) => trial.id);
    yield [`sessions/${id}.json`, json({ ...session, sensors, leadIn, mounting, trialIds })];
  }
  for (const trial of await listTrialsOfAthlete(db, athleteId)) {
    const { id } = trial;
    yield [`trials/${id}.json`, json({ ...(await viewTrial(db, id)), waveforms: await findWaveforms(db, id) })];
    yield [`trials/${id}-stances.csv`, await textOf(stancesCsv(trial, await listStances(db, id)))];
  }
  yield ['summaries.csv', await textOf(summariesOf(db, athleteId))];
  yield* auditOf(db, athleteId);
  yield* samplesOf(db, athleteId);
}

async function episodesOf(db: Db, athleteId: string): Promise<unknown[]> {
  return Promise.all(
    (await listReturnEpisodes(db, athleteId)).map(async (episode) => ({
      ...episode,
      criteria: await listReturnCriteria(db, episode.id),
      decisions: await listReturnDecisions(db, episode.id),
    })),
  );
}

/** Of all final trials, oldest first. */
export async function* summariesOf(db: Db, athleteId: string): AsyncGenerator<string> {
  yield SUMMARIES_HEAD;
  let last: TrialDifferences | null = null;
  do {
    const page: TrialDifferences[] = await pageOfSummaries(db, athleteId, last);
    yield page.map(summaryLines).join('');
    last = page.at(-1) ?? null;
  } while (last !== null);
}

/** Newest first. Who it was is told by name where the account still exists. */
async function* auditOf(db: Db, athleteId: string): AsyncGenerator<File> {
  let beforeId: number | undefined;
  for (let n = 1; ; n += 1) {
    const page = await pageOfAudit(db, { athleteId, ...(beforeId !== undefined && { beforeId }) });
    if (page.length === 0) return;
    yield [`audit/${numbered(n)}.json`, json(page)];
    beforeId = page.at(-1)!.id;
  }
}

/** Some minutes of one stream to a file. */
async function* samplesOf(db: Db, athleteId: string): AsyncGenerator<File> {
  let last: RawBatch | null = null;
  for (;;) {
    const page: RawBatch[] = await pageOfAthletesBatches(db, athleteId, last);
    last = page.at(-1) ?? null;
    if (last === null) return;
    for (const stream of streamsOf(page)) {
      const [{ deviceId, bootId, firstSequence }] = stream as [RawBatch];
      yield [`samples/sensor-${deviceId.replaceAll(':', '-')}/${bootId}-${firstSequence}.csv`, await rawCsv(stream)];
    }
  }
}

/** Batches of one start of one device belong together. @param batches in that order */
function streamsOf(batches: readonly RawBatch[]): RawBatch[][] {
  const streams: RawBatch[][] = [];
  for (const batch of batches) {
    const stream = streams.at(-1);
    const isSame = stream?.[0]?.deviceId === batch.deviceId && stream[0].bootId === batch.bootId;
    if (isSame) stream.push(batch);
    else streams.push([batch]);
  }
  return streams;
}

const NUMBER_DIGITS = 4;
function numbered(n: number): string {
  return String(n).padStart(NUMBER_DIGITS, '0');
}

function json(value: unknown): string {
  return `${JSON.stringify(value, null, 1)}\n`;
}

async function textOf(pieces: AsyncIterable<string>): Promise<string> {
  let text = '';
  for await (const piece of pieces) text += piece;
  return text;
}

function readme(nowUtcMs: number): string {
  const lines = [
    `Everything that this server stores about one athlete, taken out at ${new Date(nowUtcMs).toISOString()}.`,
    '',
    'athlete.json          what the roster holds',
    'consents.json         what was consented to, by whom, and what was taken back',
    'carers.json           who cares for the athlete',
    'annotations.json      notes of injury, pain, surface and shoes',
    'return-episodes.json  returns to training: question, criteria, decisions',
    'sessions/             a file for each session: sensors, lead-in, how they were mounted',
    'trials/               a file for each trial: result, quality, mean curves; and its stances as CSV',
    'summaries.csv         left against right of each trial and metric',
    'audit/                who read or changed what, newest first',
    'samples/              what the sensors measured, along their own axes: m/s2 and rad/s; times in ms since 1970 UTC',
    '',
    'The columns of the CSV files are named with their units. The file holds health data: keep it where nobody else reads it.',
    '',
    ...CAUTIONS,
  ];
  return lines.map((line) => `${line}\n`).join('');
}
