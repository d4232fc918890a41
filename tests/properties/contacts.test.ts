import { describe, expect, test } from 'vitest';
import { startContacts, stepContacts } from '../../server/src/stance/contacts.ts';
import { startSides, stepSides } from '../../server/src/stance/sides.ts';
import type { SidedContact } from '../../server/src/stance/types.ts';
import {
  finalOf,
  normals,
  runStages,
  sineRunning,
  standing,
  type RunningStep,
  type TrueContact,
} from './contacts-signals.ts';

const steady = (count: number, contactS: number, flightS: number): RunningStep[] =>
  Array.from({ length: count }, () => ({ contactS, flightS }));

/** Speeding up as in a run-up: shorter contacts, longer flights from step to step. */
const runUp: RunningStep[] = Array.from({ length: 12 }, (_, i) => ({
  contactS: 0.24 - 0.01 * i,
  flightS: 0.06 + 0.006 * i,
}));

function errorsMs(found: readonly SidedContact[], truth: readonly TrueContact[], type: TrueContact['type']): number[] {
  return truth
    .filter((c) => c.type === type)
    .map((c) => {
      const near = found.filter((e) => e.type === type && Math.abs(e.tS - c.tS) < 0.06);
      expect(near, `one ${type} at ${c.tS.toFixed(3)} s`).toHaveLength(1);
      return 1000 * (near[0]!.tS - c.tS);
    });
}

function meanAndSd(values: readonly number[]): { mean: number; sd: number } {
  const mean = values.reduce((s, x) => s + x, 0) / values.length;
  return { mean, sd: Math.sqrt(values.reduce((s, x) => s + (x - mean) ** 2, 0) / values.length) };
}

describe('contacts of running by the sine-wave model (Morin et al. 2005)', () => {
  test.each([100, 200, 500])(
    'at %i Hz every contact is found once, within the goals at the start of the stance',
    (rateHz) => {
      const { frames, truth } = sineRunning(steady(30, 0.22, 0.1), rateHz, { noise: normals(1), noiseMps2: 0.3 });
      const found = finalOf(runStages(frames, rateHz));
      expect(found).toHaveLength(truth.length);
      const ic = meanAndSd(errorsMs(found, truth, 'initial_contact'));
      expect(Math.abs(ic.mean)).toBeLessThan(5);
      expect(ic.sd).toBeLessThan(10);
      // A pelvis unloads before the foot leaves, a pure half sine does not: the edge is timed between the two.
      const to = meanAndSd(errorsMs(found, truth, 'toe_off'));
      expect(Math.abs(to.mean)).toBeLessThan(12);
      expect(to.sd).toBeLessThan(10);
    },
  );

  test('a run-up that changes from step to step loses no contact and keeps the sides', () => {
    const { frames, truth } = sineRunning(runUp, 200, { noise: normals(2), noiseMps2: 0.5 });
    const found = finalOf(runStages(frames, 200));
    const ic = meanAndSd(errorsMs(found, truth, 'initial_contact'));
    expect(Math.abs(ic.mean)).toBeLessThan(5);
    expect(ic.sd).toBeLessThan(10);
    for (const c of truth) {
      const match = found.find((e) => e.type === c.type && Math.abs(e.tS - c.tS) < 0.06);
      expect(match?.side).toBe(c.side);
      expect(match?.gait).toBe('run');
    }
  });

  test('in running a toe-off belongs to the foot of the contact before it', () => {
    const { frames } = sineRunning(steady(12, 0.2, 0.12), 200);
    const found = finalOf(runStages(frames, 200));
    found.forEach((event, i) => {
      if (event.type === 'toe_off' && found[i - 1]?.type === 'initial_contact') {
        expect(event.side).toBe(found[i - 1]!.side);
      }
    });
  });

  test('an accelerometer that clips at 16 g on hard impacts loses no contact', () => {
    const { frames, truth } = sineRunning(steady(20, 0.14, 0.13), 500);
    for (const c of truth.filter((x) => x.type === 'initial_contact')) {
      for (const frame of frames) {
        const sinceS = frame.tS - c.tS;
        if (sinceS > 0.01 && sinceS < 0.02) frame.up = 16 * 9.81 - 9.81;
      }
    }
    const found = finalOf(runStages(frames, 500));
    errorsMs(found, truth, 'initial_contact');
    errorsMs(found, truth, 'toe_off');
  });
});

describe('what is no contact', () => {
  test.each([0.05, 0.2, 0.5])('a minute of standing with %f m/s^2 of noise gives none', (size) => {
    expect(finalOf(runStages(standing(60, 100, normals(3), size), 100))).toEqual([]);
  });

  test('knocks on the sensor while standing give no running and no walking', () => {
    const frames = standing(30, 200, normals(4), 0.1);
    for (let k = 300; k < frames.length; k += 700) {
      frames[k]!.up = 150;
      frames[k + 1]!.up = -80;
      frames[k + 2]!.up = 40;
    }
    expect(finalOf(runStages(frames, 200))).toEqual([]);
  });
});

describe('the stages as machines', () => {
  const { frames } = sineRunning([...steady(10, 0.24, 0.08), ...runUp], 100, { noise: normals(5), noiseMps2: 0.5 });

  test('copying the whole state between any two frames changes nothing', () => {
    expect(runStages(frames, 100, true)).toEqual(runStages(frames, 100));
  });

  test('ids come in order, revisions of an id count up by one, and a withdrawn event stays withdrawn', () => {
    const seen = new Map<number, SidedContact>();
    for (const event of runStages(frames, 100)) {
      const before = seen.get(event.id);
      expect(event.revision).toBe(before === undefined ? 0 : before.revision + 1);
      expect(before?.withdrawn ?? false).toBe(false);
      seen.set(event.id, event);
    }
  });

  test('every event is published within 250 ms of itself', () => {
    const lateS: number[] = [];
    const contacts = startContacts(100);
    const sides = startSides(100);
    for (const frame of frames) {
      for (const event of stepSides(sides, frame, stepContacts(contacts, frame))) {
        if (event.revision === 0) lateS.push(frame.tS - event.tS);
      }
    }
    expect(lateS.length).toBeGreaterThan(30);
    expect(Math.max(...lateS)).toBeLessThan(0.25);
  });

  test('a break in the samples ends the stance: no toe-off is taken from across it', () => {
    const { frames: whole, truth } = sineRunning(steady(12, 0.22, 0.1), 200);
    const contact = truth.filter((c) => c.type === 'initial_contact')[6]!;
    const kept = whole.filter((f) => f.tS < contact.tS + 0.05 || f.tS > contact.tS + 0.6);
    const after = kept.find((f) => f.tS > contact.tS + 0.6)!;
    after.fresh = true;
    const found = finalOf(runStages(kept, 200));
    const inGap = found.filter((e) => e.tS > contact.tS + 0.06 && e.tS < contact.tS + 0.59);
    expect(inGap).toEqual([]);
  });

  test('an event beside interpolated samples is less sure', () => {
    const { frames: patched, truth } = sineRunning(steady(12, 0.22, 0.1), 200);
    const doubtful = truth.filter((c) => c.type === 'initial_contact')[5]!;
    for (const f of patched) f.filled = Math.abs(f.tS - doubtful.tS) < 0.02;
    for (const event of finalOf(runStages(patched, 200)).slice(2, -1)) {
      const isNear = Math.abs(event.tS - doubtful.tS) < 0.03;
      if (isNear) expect(event.confidence).toBeLessThanOrEqual(0.6);
      else expect(event.confidence).toBeGreaterThan(0.8);
    }
  });

  test('without a gyroscope contacts are found and their side is unknown', () => {
    const { frames: plain } = sineRunning(steady(10, 0.22, 0.1), 200);
    const blind = plain.map((f) => ({
      ...f,
      rollRate: NaN,
      yawRate: NaN,
      pitchRate: NaN,
      forwardTilt: NaN,
      heading: NaN,
    }));
    const found = finalOf(runStages(blind, 200));
    expect(found).toHaveLength(21);
    for (const event of found) expect([event.side, event.sidePosterior]).toEqual(['unknown', 0.5]);
  });

  test('a rate that the smoothing cannot work with is refused', () => {
    expect(() => startContacts(39)).toThrow(/40 to 2000/);
    expect(() => startContacts(NaN)).toThrow(/40 to 2000/);
    expect(() => startContacts(40)).not.toThrow();
  });
});
