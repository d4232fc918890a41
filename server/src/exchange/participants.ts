/**
 * The body mass of the person in a recording, from `participants.tsv` (BIDS specification, Modality agnostic files). The
 * column `weight` is common practice, in kg unless `participants.json` names another unit.
 */
import { basename, dirname, join } from 'node:path';
import { BODY_MASS_KG_MAX, BODY_MASS_KG_MIN } from '@ambipede/shared';
import { readTable } from './bids-tables.ts';
import { RecordingError } from './recording-error.ts';
import { filesOfFolder, type RecordingFiles } from './recording-files.ts';

export const BODY_MASS = {
  /** A value outside is taken for a slip of the unit. */
  kgMin: BODY_MASS_KG_MIN,
  kgMax: BODY_MASS_KG_MAX,
  /** root / sub-x / ses-y / motion: no dataset is deeper. */
  foldersUpMax: 3,
} as const;

const KG_PER: Record<string, number> = { kg: 1, g: 1e-3, lb: 0.45359237 };

/**
 * Looks in the recording folder, then upwards as far as a BIDS dataset is deep; the nearest table counts.
 * @returns null when there is no table, no row of this subject, or no value: another person's mass is never taken.
 * @throws RecordingError for a value, a unit or a table that cannot be right.
 */
export async function readBodyMassKg(source: string | RecordingFiles, motionFile: string): Promise<number | null> {
  const files = typeof source === 'string' ? filesOfFolder(source) : source;
  const subject = /^(sub-[^_]+)_/.exec(basename(motionFile))?.[1];
  const place = subject === undefined ? null : await nearestTable(files);
  if (place === null) return null;
  const rows = (await readTable(files, join(place, 'participants.tsv'))).filter(
    (row) => row['participant_id'] === subject,
  );
  if (rows.length > 1) throw new RecordingError(`participants.tsv has ${rows.length} rows for ${subject}: keep one.`);
  const text = rows[0]?.['weight'] ?? 'n/a';
  if (text === 'n/a' || text === '') return null;
  const unit = await unitIn(files, place);
  const kg = Number(text) * (KG_PER[unit] ?? NaN);
  if (!(kg >= BODY_MASS.kgMin && kg <= BODY_MASS.kgMax)) {
    throw new RecordingError(
      `participants.tsv gives ${subject} the weight "${text}" ${unit}: ${BODY_MASS.kgMin} to ${BODY_MASS.kgMax} kg are taken. Write it in kg, or name the unit (${Object.keys(KG_PER).join(', ')}) in participants.json; n/a when it is not known.`,
    );
  }
  return kg;
}

async function nearestTable(files: RecordingFiles): Promise<string | null> {
  let at = files.root;
  for (let up = 0; up <= BODY_MASS.foldersUpMax; up += 1) {
    if ((await files.text(join(at, 'participants.tsv'))) !== null) return at;
    if ((await files.text(join(at, 'dataset_description.json'))) !== null || dirname(at) === at) return null;
    at = dirname(at);
  }
  return null;
}

async function unitIn(files: RecordingFiles, place: string): Promise<string> {
  const text = await files.text(join(place, 'participants.json'));
  if (text === null) return 'kg';
  try {
    const sidecar = JSON.parse(text) as { weight?: { Units?: unknown } };
    return String(sidecar.weight?.Units ?? 'kg').toLowerCase();
  } catch (cause) {
    throw new RecordingError(
      `participants.json is not valid JSON: ${cause instanceof Error ? cause.message : String(cause)}`,
    );
  }
}
