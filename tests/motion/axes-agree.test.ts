/**
 * Axes that are swapped make left of right. dv/dt = -w x v for a vector at rest in the room (rigid-body kinematics, any textbook of mechanics);
 * a mirror turns the sign of the cross product round.
 */
import { existsSync, readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { exampleAthlete, realistic, simulateSession } from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import type { ScriptStep } from '../../firmware-protocol/virtual-sensor/athlete/index.ts';
import { axesOf, type Axes } from '../../server/src/motion/axes-agree.ts';
import { readRecording } from '../../server/src/exchange/motion-bids-reader.ts';
import type { ImuSample } from '../../server/src/motion/types.ts';

type Change = (sample: ImuSample) => ImuSample;
/** Orders and signs of a sensor mounted otherwise: rotations, so nothing is wrong with them. */
const TURNED: Record<string, Change> = {
  'as it is': (s) => s,
  'x to y to z': (s) => ({ ...s, ax: s.az, ay: s.ax, az: s.ay, gx: s.gz, gy: s.gx, gz: s.gy }),
  'half a turn about z': (s) => ({ ...s, ax: -s.ax, ay: -s.ay, gx: -s.gx, gy: -s.gy }),
};
/** Changes of which the product of the signs is -1. */
const MIRRORED: Record<string, Change> = {
  'y and z swapped': (s) => ({ ...s, ay: s.az, az: s.ay, gy: s.gz, gz: s.gy }),
  'x and y swapped': (s) => ({ ...s, ax: s.ay, ay: s.ax, gx: s.gy, gy: s.gx }),
  'one axis the wrong way round': (s) => ({ ...s, ax: -s.ax, gx: -s.gx }),
  'rates with the wrong sign': (s) => ({ ...s, gx: -s.gx, gy: -s.gy, gz: -s.gz }),
};
const RATE_HZ = 200;

function movementOf(seed: number, script: ScriptStep[]): ImuSample[] {
  const sensors = { pelvis: realistic('pelvis', seed), sternum: realistic('sternum', seed) };
  const { pelvis } = simulateSession({ seed, athlete: exampleAthlete(seed), script, sensors }).streams;
  return Array.from(pelvis.tS, (tS, i) => {
    const at = (values: ArrayLike<number>) => values[i]!;
    return {
      tS,
      ax: at(pelvis.ax),
      ay: at(pelvis.ay),
      az: at(pelvis.az),
      gx: at(pelvis.gx),
      gy: at(pelvis.gy),
      gz: at(pelvis.gz),
    };
  });
}

describe('a recording with a forward bow', () => {
  const samples = movementOf(5, [
    { kind: 'reference_stand', seconds: 4 },
    { kind: 'forward_bow', seconds: 9 },
    { kind: 'run', seconds: 15, cadencePerMin: 165, speedMps: 3.2 },
    { kind: 'pause', seconds: 2 },
  ]);

  test.each(Object.entries(TURNED))('is right-handed however the sensor is worn: %s', (_name, change) => {
    expect(axesOf(samples.map(change), RATE_HZ)).toBe('right-handed');
  });

  test.each(Object.entries(MIRRORED))('is found out: %s', (_name, change) => {
    expect(axesOf(samples.map(change), RATE_HZ)).toBe('mirrored');
  });

  test('is at odds with itself when the rates alone are in another order', () => {
    const odd = samples.map((s) => ({ ...s, gx: s.gy, gy: s.gz, gz: s.gx }));
    expect(axesOf(odd, RATE_HZ)).toBe('at odds');
  });

  test('with accelerations of the wrong sign cannot be told: down stands as still in the room as up', () => {
    const upsideDown = samples.map((s) => ({ ...s, ax: -s.ax, ay: -s.ay, az: -s.az }));
    expect(axesOf(upsideDown, RATE_HZ)).toBe('right-handed');
  });

  test('of a few seconds tells nothing', () => {
    expect(axesOf(samples.slice(0, 300), RATE_HZ)).toBe('cannot tell');
  });
});

test('a run alone tells nothing, in the mirror or not', () => {
  const samples = movementOf(6, [
    { kind: 'run', seconds: 15, cadencePerMin: 165, speedMps: 3.2 },
    { kind: 'pause', seconds: 2 },
  ]);
  for (const change of [...Object.values(TURNED), ...Object.values(MIRRORED)])
    expect(axesOf(samples.map(change), RATE_HZ)).toBe('cannot tell');
});

const RECORDINGS = fileURLToPath(new URL('../../../shared/data/recordings', import.meta.url));
const isThere = existsSync(RECORDINGS);

describe(`real recordings${isThere ? '' : ' (not run: ../shared/data is not there)'}`, () => {
  test.skipIf(!isThere)('are never called mirrored, and their mirrors never right-handed', async () => {
    const counts: Partial<Record<Axes, number>> = {};
    for (const entry of readdirSync(RECORDINGS, { withFileTypes: true })) {
      if (!entry.isDirectory()) continue;
      const { streams } = await readRecording(`${RECORDINGS}/${entry.name}`);
      for (const stream of Object.values(streams)) {
        const samples = stream.samples.filter((s) => Number.isFinite(s.tS + s.ax + s.ay + s.az + s.gx + s.gy + s.gz));
        if (samples.length < 2) continue;
        const found = axesOf(samples, stream.rateHz);
        counts[found] = (counts[found] ?? 0) + 1;
        expect([entry.name, found]).not.toEqual([entry.name, 'mirrored']);
        for (const name of ['y and z swapped', 'x and y swapped', 'rates with the wrong sign'])
          expect([entry.name, name, axesOf(samples.map(MIRRORED[name]!), stream.rateHz)]).not.toEqual([
            ...[entry.name, name, 'right-handed'],
          ]);
      }
    }
    // Those in which somebody bends or turns the sensor.
    expect(counts['right-handed']).toBeGreaterThan(3);
  });
});
