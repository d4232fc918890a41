/** The results file as the design fixes it: keys may be added, none may be missing or of another kind. */
import { expect } from 'vitest';

const number = expect.any(Number);
const side = { n: number };

export function expectResultsFile(result: unknown): void {
  const r = result as Record<string, Record<string, unknown>>;
  expect(r).toMatchObject({
    version: expect.any(String),
    task: expect.any(String),
    clock: { sternumOffsetS: number, sternumSkewPpm: number },
    angles: Object.fromEntries(ANGLE_KEYS.map((key) => [key, expect.any(Array)])),
    contacts: expect.any(Array),
    stances: expect.any(Array),
    asymmetry: expect.any(Object),
    waveforms: { left: expect.any(Object), right: expect.any(Object) },
    taskSummary: {
      stand: expect.any(Array),
      singleLegStand: expect.any(Array),
      runUp: expect.any(Array),
      landing: expect.any(Array),
      halfTurn: expect.any(Array),
      remarks: expect.any(Array),
    },
    quality: { gaps: number, stancesLost: number, mounting: expect.any(Object), settling: number },
  });
  const angles = r['angles'] as Record<string, unknown[]>;
  for (const key of ANGLE_KEYS) expect(angles[key], key).toHaveLength(angles['t']!.length);
  expect(isIncreasing(angles['t'] as number[])).toBe(true);
  for (const contact of r['contacts'] as unknown as Record<string, unknown>[]) expectContact(contact);
  for (const stance of r['stances'] as unknown as Record<string, unknown>[]) expectStance(stance);
  for (const waveform of waveformsIn(r['waveforms'] as unknown as Record<string, Record<string, unknown>>)) {
    expectWaveform(waveform);
  }
  for (const key of ASYMMETRY_KEYS) expectAsymmetry((r['asymmetry'] as Record<string, unknown>)[key]);
}

const ANGLE_KEYS = [
  't',
  'pelvicObliquityDeg',
  'trunkLateralTiltDeg',
  'pelvicTiltDeg',
  'trunkForwardTiltDeg',
  'separationDeg',
];

const WAVEFORM_KEYS = ['swingSideHeightDeg', 'leanToStanceDeg', 'sideBendDeg', 'separationDeg'];

const STANCE_KEYS = [
  'contactTimeS',
  'flightTimeS',
  'swingSideDropDeg',
  'swingSideLiftDeg',
  'obliquityExcursionDeg',
  'leanToStanceMeanDeg',
  'leanToStancePeakDeg',
  'swingSideClosingDeg',
  'chestLeadDeg',
  'verticalOscillationM',
  'lateralSwayM',
  'peakAttenuationDb',
  'peakForceN',
  'verticalStiffnessNPerM',
];

const ASYMMETRY_KEYS = ['swingSideDropDeg', 'contactTimeS', 'leanToStancePeakDeg'];

function expectContact(contact: Record<string, unknown>): void {
  expect(Object.keys(contact)).toEqual(expect.arrayContaining(['t', 'side', 'type', 'confidence']));
  expect(contact['t']).toEqual(number);
  expect(['left', 'right', 'unknown']).toContain(contact['side']);
  expect(['initial_contact', 'toe_off']).toContain(contact['type']);
  expect(contact['confidence']).toBeGreaterThanOrEqual(0);
  expect(contact['confidence']).toBeLessThanOrEqual(1);
}

function expectStance(stance: Record<string, unknown>): void {
  expect(Object.keys(stance)).toEqual(expect.arrayContaining(['side', 'initialContact', 'toeOff', ...STANCE_KEYS]));
  expect(['left', 'right', 'unknown']).toContain(stance['side']);
  expect(stance['toeOff']).toBeGreaterThan(stance['initialContact'] as number);
  // Not measured is null, never a made-up number and never absent.
  for (const key of STANCE_KEYS) expect(stance[key] === null || Number.isFinite(stance[key]), key).toBe(true);
}

function waveformsIn(waveforms: Record<string, Record<string, unknown>>): unknown[] {
  return ['left', 'right'].flatMap((each) => WAVEFORM_KEYS.map((key) => waveforms[each]![key]));
}

/** 0, 2 ... 100 % of stance; null where nothing is known. */
function expectWaveform(waveform: unknown): void {
  if (waveform === null) return;
  const { n, mean, sd } = waveform as { n: number; mean: number[]; sd: number[] | null };
  expect(n).toBeGreaterThan(0);
  for (const curve of [mean, ...(sd ? [sd] : [])]) {
    expect(curve).toHaveLength(51);
    expect(curve.every(Number.isFinite)).toBe(true);
  }
}

function expectAsymmetry(row: unknown): void {
  expect(row).toMatchObject({ left: side, right: side, verdict: expect.any(String) });
  const { left, right, difference, ci95 } = row as Record<string, Record<string, unknown> | null>;
  for (const each of [left, right]) expect(Object.keys(each!)).toEqual(expect.arrayContaining(['n', 'mean', 'sd']));
  expect(difference === null || Number.isFinite(difference)).toBe(true);
  if (ci95 !== null) {
    const [low, high] = ci95 as unknown as number[];
    expect(low).toBeLessThanOrEqual(high!);
  }
}

function isIncreasing(values: readonly number[]): boolean {
  return values.every((value, i) => i === 0 || value > values[i - 1]!);
}
