/** An athlete who cannot stand still: the lead-in still serves, and says that it is weaker. */
import { describe, expect, it } from 'vitest';
import { realistic, type AthleteProfile } from '../../firmware-protocol/virtual-sensor/athlete/index.ts';
import { randomAthlete, simulateSession } from '../../firmware-protocol/virtual-sensor/athlete/index.ts';
import { drive, lateralErrors } from './drive.ts';

/** Twice the standard uncertainty that the mounting itself states for a swaying stand. */
const ZERO_DEG = 2 * 1.2;

function sessionOf(swayDeg: number) {
  const athlete: AthleteProfile = { ...randomAthlete(3), swayDeg };
  return simulateSession({
    seed: 3,
    athlete,
    sensors: { pelvis: realistic('pelvis', 3), sternum: realistic('sternum', 43) },
    script: [
      { kind: 'pause', seconds: 2 },
      { kind: 'reference_stand', seconds: 6 },
      { kind: 'forward_bow', seconds: 12 },
      { kind: 'pause', seconds: 2 },
      { kind: 'walk', seconds: 15, cadencePerMin: 108 },
      { kind: 'pause', seconds: 3 },
    ],
  });
}

describe('a reference stand with a strong sway', () => {
  const session = sessionOf(6);
  const { mounting, final } = drive(session, 'sternum');

  it('gives a mounting from the lead-in that says so and is twice as unsure', () => {
    expect(mounting.report.source).toBe('lead-in');
    expect(mounting.report.remarks.join(' ')).toMatch(/swayed in the reference stand/);
    expect(mounting.report.frontalUncertaintyDeg).toBe(1.2);
  });

  it('leaves the frontal zero within what it states', () => {
    const walk = session.marks.find((m) => m.kind === 'walk')!;
    expect(Math.abs(lateralErrors(session, 'sternum', final, walk).mean)).toBeLessThan(ZERO_DEG);
  });

  it('is not said of an athlete who stands quietly', () => {
    expect(drive(sessionOf(0.4), 'sternum').mounting.report.remarks.join(' ')).not.toMatch(/swayed/);
  });
});
