/** The channels of one tracking system: which place they are on, their units, and their columns as samples. */
import { RAD_PER_DEG, STANDARD_GRAVITY_MPS2, type Place } from '@ambipede/shared';
import type { ImuSample } from '../motion/types.ts';
import { RecordingError } from './recording-error.ts';

/** Names of `tracked_point` that mean one of our two places, lower case (docs/conventions.md lists them). */
export const PLACE_SYNONYMS: Record<Place, readonly string[]> = {
  pelvis: [
    'pelvis',
    'sacrum',
    'hip',
    'hips',
    'l5',
    'l4',
    'l3',
    'lumbar',
    'lower back',
    'lowerback',
    'lower_back',
    'waist',
  ],
  sternum: ['sternum', 'thorax', 'chest', 'trunk', 'upper back', 'upperback', 'upper_back', 'torso', 't4', 'c7'],
};

const UNIT_FACTORS: Record<string, Record<string, number>> = {
  ACCEL: { 'm/s^2': 1, 'm/s2': 1, 'm/s²': 1, g: STANDARD_GRAVITY_MPS2, mg: STANDARD_GRAVITY_MPS2 / 1000 },
  GYRO: { 'rad/s': 1, 'deg/s': RAD_PER_DEG, '°/s': RAD_PER_DEG, 'degree/s': RAD_PER_DEG },
  LATENCY: { s: 1, ms: 1e-3, us: 1e-6, 'n/a': 1 },
};

export interface Channel {
  name: string;
  component: string;
  type: string;
  trackedPoint: string;
  units: string;
}

interface Column {
  index: number;
  factor: number;
}

export function channelOf(row: Record<string, string>): Channel {
  return {
    name: row['name'] ?? '',
    component: (row['component'] ?? 'n/a').toLowerCase(),
    type: (row['type'] ?? '').toUpperCase(),
    trackedPoint: row['tracked_point'] ?? 'n/a',
    units: row['units'] ?? 'n/a',
  };
}

function placeOf(trackedPoint: string): Place | null {
  const name = trackedPoint.trim().toLowerCase();
  for (const place of ['pelvis', 'sternum'] as const) if (PLACE_SYNONYMS[place].includes(name)) return place;
  return null;
}

function unitFactor(channel: Channel): number {
  const known = UNIT_FACTORS[channel.type] ?? {};
  const factor = known[channel.units] ?? known[channel.units.toLowerCase()];
  if (factor !== undefined) return factor;
  throw new RecordingError(
    `Channel ${channel.name}: unit "${channel.units}" is not known for ${channel.type} (known: ${Object.keys(known).join(', ')}).`,
  );
}

/**
 * The samples of one place, or null when these channels have no accelerometer there. When the recording has a single
 * tracked point of a name that we do not know (`isOnlySystem`), nothing but the pelvis can be meant.
 */
export function samplesOf(
  channels: readonly Channel[],
  rows: readonly number[][],
  rateHz: number,
  place: Place,
  isOnlySystem: boolean,
): ImuSample[] | null {
  const points = new Set(channels.filter((c) => c.type === 'ACCEL').map((c) => c.trackedPoint));
  const isSoleUnknown = isOnlySystem && points.size === 1 && placeOf([...points][0] ?? '') === null;
  const isHere = (c: Channel): boolean =>
    placeOf(c.trackedPoint) === place || (isSoleUnknown && place === 'pelvis' && points.has(c.trackedPoint));
  const column = (type: string, component: string | null, isMine: (c: Channel) => boolean): Column | null => {
    const index = channels.findIndex(
      (c) => c.type === type && (component === null || c.component === component) && isMine(c),
    );
    const channel = channels[index];
    return channel ? { index, factor: unitFactor(channel) } : null;
  };
  const accel = ['x', 'y', 'z'].map((axis) => column('ACCEL', axis, isHere));
  if (accel.every((c) => c === null)) return null;
  const gyro = ['x', 'y', 'z'].map((axis) => column('GYRO', axis, isHere));
  const time = column('LATENCY', null, (c) => isHere(c) || c.trackedPoint === 'n/a');
  const read = (row: readonly number[], c: Column | null | undefined, absent: number): number =>
    c ? (row[c.index] ?? NaN) * c.factor : absent;
  const samples = rows.map((row, i) => ({
    tS: time ? read(row, time, NaN) : i / rateHz,
    // An accelerometer axis that was not recorded reads 0: with the axes at hand that is the best to be said of it.
    ax: read(row, accel[0], 0),
    ay: read(row, accel[1], 0),
    az: read(row, accel[2], 0),
    gx: read(row, gyro[0], NaN),
    gy: read(row, gyro[1], NaN),
    gz: read(row, gyro[2], NaN),
  }));
  return samples.filter((s) => Number.isFinite(s.tS));
}
