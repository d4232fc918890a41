/** Half-turns and landings of the synthetic athlete, from the sensors to the task summary. */
import { describe, expect, it } from 'vitest';
import {
  randomAthlete,
  type AthleteProfile,
  type ScriptStep,
} from '@ambipede/firmware-protocol/virtual-sensor/athlete';
import { analyseRecording } from '../../server/src/analysis.ts';
import { HALF_TURN } from '../../server/src/tasks/half-turn.ts';
import { STAND } from '../../server/src/tasks/stand.ts';
import { WINDOW } from '../../server/src/tasks/window.ts';
import { FALSE_FRONTAL_MEAN_DEG } from '../motion/goals.ts';
import { recordingOf, sessionOf } from './recordings.ts';

const SEEDS = [1, 2, 3, 4, 5, 6];
const PAUSE: ScriptStep = { kind: 'pause', seconds: 2 };
const SCRIPT: ScriptStep[] = [
  { kind: 'half-turn', direction: 'left' },
  PAUSE,
  { kind: 'half-turn', direction: 'right' },
  PAUSE,
  { kind: 'half-turn', direction: 'right', flightS: 0.42 },
  PAUSE,
  { kind: 'jump', flightS: 0.45, landing: 'left' },
  PAUSE,
  { kind: 'jump', flightS: 0.45, landing: 'right' },
  PAUSE,
  { kind: 'jump', flightS: 0.35, landing: 'both' },
];
/** The rate is taken over some frames to both sides, and begins under the bound. */
const EDGE_S = HALF_TURN.halfS;
/** Scale of the gyroscope is exact in the model, its bias known to some 0.1 deg/s; about the segment's axis instead of the vertical, which leans by up to 10 deg (1.5 %); soft tissue shakes in a jump. */
const RATE_SHARE = 0.03;
/** The two headings drift apart, in a turn and the following; the chest also turns with its own tilt. */
const SEPARATION_DEG = 3 * STAND.headingDriftDegPerS * 3 + 1;

function analyse(seed: number, sensors: 'ideal' | 'realistic', athlete: AthleteProfile = randomAthlete(seed)) {
  const session = sessionOf(seed, SCRIPT, sensors, athlete);
  const result = analyseRecording(recordingOf(session, 'half-turn'));
  return { truth: session.truth, result, turns: result.taskSummary.halfTurn, landings: result.taskSummary.landing };
}

describe.each(['ideal', 'realistic'] as const)('a recorded half-turn, %s sensors', (sensors) => {
  it.each(SEEDS)('has direction, times, rates, separation out and back, and lean (seed %d)', (seed) => {
    const { truth, turns } = analyse(seed, sensors);
    expect(turns.map((t) => t.direction)).toEqual(['left', 'right', 'right']);
    truth.halfTurns.forEach((wanted, k) => {
      const turn = turns[k]!;
      expect(Math.abs(turn.startS - wanted.onsetS)).toBeLessThan(EDGE_S);
      expect(Math.abs(turn.endS - wanted.endS)).toBeLessThan(EDGE_S);
      expect(Math.abs(turn.turnDeg - 180)).toBeLessThan(2);
      for (const place of ['pelvis', 'trunk'] as const) {
        const ratio = turn.peakRateDegPerS[place]! / wanted.peakRateDegPerS[place];
        expect(Math.abs(ratio - 1)).toBeLessThan(RATE_SHARE);
      }
      // Its sign says which segment led.
      expect(Math.abs(turn.separationOutDeg! - wanted.separationOutDeg)).toBeLessThan(SEPARATION_DEG);
      expect(Math.abs(turn.separationBackDeg! - wanted.separationBackDeg)).toBeLessThan(SEPARATION_DEG);
      expect(Math.abs(turn.leanIntoTurnMeanDeg! - wanted.leanIntoTurnMeanDeg)).toBeLessThan(FALSE_FRONTAL_MEAN_DEG);
      // Swinging dies away: quiet is found before nothing at all is left, and not long before.
      expect(turn.endS + turn.settleS!).toBeLessThan(wanted.stillFromS + WINDOW.quietBlockS);
      expect(turn.settleS!).toBeGreaterThan(0.2 * (wanted.stillFromS - wanted.endS));
    });
  });
});

describe('an athlete whose pelvis leads to one side and whose chest leads to the other', () => {
  it.each(['left', 'right'] as const)('shows it to each side: the pelvis to the %s', (side) => {
    const other = side === 'left' ? 'right' : 'left';
    for (const seed of SEEDS) {
      const athlete = randomAthlete(seed);
      athlete.acts.halfTurn.leads =
        side === 'left' ? { left: 'pelvis', right: 'chest' } : { left: 'chest', right: 'pelvis' };
      const { turns } = analyse(seed, 'realistic', athlete);
      const out = (direction: string): number => turns.find((t) => t.direction === direction)!.separationOutDeg!;
      expect(out(side)).toBeLessThan(-5);
      expect(out(other)).toBeGreaterThan(5);
    }
  });
});

describe('turning and jumping on the spot', () => {
  it.each(SEEDS)('makes no stance of a gait (seed %d)', (seed) => {
    expect(analyse(seed, 'realistic').result.stances).toEqual([]);
  });
});

describe.each(['ideal', 'realistic'] as const)('a recorded landing, %s sensors', (sensors) => {
  it.each(SEEDS)(
    'has the feet marked, its time, peaks, tilt to the right side, and time to settle (seed %d)',
    (seed) => {
      const { truth, landings } = analyse(seed, sensors);
      // The half-turn in the air is marked as a turn, not as a landing.
      const wanted = truth.landings.slice(1);
      expect(landings.map((l) => l.feet)).toEqual(['left', 'right', 'both']);
      wanted.forEach((want, k) => {
        const landing = landings[k]!;
        // Patoz et al. 2022 (Sensors 22:784): flight times from the sacrum have an RMSE of 20 ms; a single one, twice that.
        expect(Math.abs(landing.t - want.t)).toBeLessThan(0.04);
        // Five cm of misplacement change peaks by up to 2.45 g in running (Sensors 2024 24:656); our model sits within 4 cm and shakes.
        expect(
          Math.abs(landing.peakVerticalAccelerationG.pelvis! - want.peakVerticalAccelerationG.pelvis),
        ).toBeLessThan(sensors === 'ideal' ? 0.3 : 2.45);
        expect(Math.abs(landing.kneeTwistProxyDegPerS.pelvis! - want.peakTurningDegPerS.pelvis)).toBeLessThan(
          sensors === 'ideal' ? 5 : 40,
        );
        expect(landing.t + landing.settleS!).toBeLessThan(want.stillFromS! + WINDOW.quietBlockS);
      });
      // On one foot the free side sinks: right side down on the left foot.
      expect(landings[0]!.peakTiltDeg.pelvis).toBeLessThan(landings[1]!.peakTiltDeg.pelvis!);
    },
  );
});
