/** Standing on one leg, turning and landing, with realistic sensors: errors of the task summary, and contacts that are none. */
import {
  randomAthlete,
  type ScriptStep,
  type SimulatedSession,
} from '../../firmware-protocol/virtual-sensor/athlete/index.ts';
import { analyseRecording } from '../../server/src/analysis.ts';
import type { AnalysisResult } from '../../shared/src/index.ts';
import { session, toRecording } from './synthetic-tasks.ts';

const SEEDS = 20;
/** A contact this near a true one is that. */
const SAME_S = 0.1;
const PAUSE: ScriptStep = { kind: 'pause', seconds: 2 };
const ONE_LEG: ScriptStep[] = (['left', 'right'] as const).flatMap((side): ScriptStep[] => [
  { kind: 'single-leg-stand', side, holdsS: [12] },
  PAUSE,
  { kind: 'single-leg-stand', side, holdsS: [8, 3] },
  PAUSE,
]);
const TURNS: ScriptStep[] = (['left', 'right'] as const).flatMap((direction): ScriptStep[] => [
  { kind: 'half-turn', direction },
  PAUSE,
  { kind: 'half-turn', direction, flightS: 0.42 },
  PAUSE,
]);
const LANDINGS: ScriptStep[] = (['left', 'right', 'both'] as const).flatMap((landing): ScriptStep[] => [
  { kind: 'jump', flightS: 0.45, landing },
  PAUSE,
]);

type Errors = Record<string, number[]>;

export function actRows(): void {
  console.log(`\nTasks on the spot, ${SEEDS} seeds, realistic sensors: found minus true, mean and SD, largest size\n`);
  table('single-leg stand', 'single-leg-stand', ONE_LEG, singleLegErrors);
  table('half-turn', 'half-turn', TURNS, turnErrors);
  table('landing', 'landing', LANDINGS, landingErrors);
  console.log('\nContacts that are none (no foot touched or left within 0.1 s), and stances of a gait\n');
  const stand: ScriptStep = { kind: 'stand', seconds: 60 };
  for (const [name, steps] of [
    ['quiet stand', [stand]],
    ['single-leg stand', ONE_LEG],
    ['half-turn on the ground', TURNS.filter((s) => !('flightS' in s))],
    ['half-turn in the air', TURNS.filter((s) => s.kind !== 'half-turn' || 'flightS' in s)],
    ['jump and landing', LANDINGS],
  ] as const)
    falseContacts(name, [...steps]);
}

function table(
  name: string,
  task: string,
  steps: ScriptStep[],
  errorsOf: (simulated: SimulatedSession, result: AnalysisResult, errors: Errors) => void,
): void {
  const errors: Errors = {};
  for (let seed = 1; seed <= SEEDS; seed += 1) {
    const simulated = session(seed, randomAthlete(seed), steps);
    errorsOf(simulated, analyseRecording(toRecording(simulated, task)), errors);
  }
  for (const [key, values] of Object.entries(errors)) {
    const known = values.filter(Number.isFinite);
    const mean = known.reduce((a, b) => a + b, 0) / known.length;
    const sd = Math.sqrt(known.reduce((s, v) => s + (v - mean) ** 2, 0) / known.length);
    const n = (x: number): string => x.toFixed(2).padStart(8);
    console.log(
      `${name.padEnd(18)}${key.padEnd(28)}n ${String(known.length).padStart(3)} of ${String(values.length).padStart(3)}  mean${n(mean)}  SD${n(sd)}  largest${n(Math.max(...known.map(Math.abs)))}`,
    );
  }
}

function add(errors: Errors, key: string, found: number | null | undefined, truth: number): void {
  (errors[key] ??= []).push((found ?? NaN) - truth);
}

function singleLegErrors(simulated: SimulatedSession, result: AnalysisResult, errors: Errors): void {
  simulated.truth.singleLegStands.forEach(({ holds }, k) => {
    const truth = holds.reduce((best, h) => (h.heldS > best.heldS ? h : best));
    const found = result.taskSummary.singleLegStand[k];
    add(errors, truth.fell ? 'held, touched early, s' : 'held, s', found?.heldS, truth.heldS);
    add(errors, 'height of the free side, deg', found?.swingSideHeightDeg, truth.swingSideHeightDeg);
    add(errors, 'lean to stance, deg', found?.leanToStanceDeg, truth.leanToStanceDeg);
    add(errors, 'sway of the pelvis, deg', found?.sway.pelvis?.lateralRmsDeg, truth.lateralRmsDeg.pelvis);
    const corrections = found?.corrections;
    add(errors, 'corrections', corrections && corrections.left + corrections.right, truth.corrections.length);
  });
}

function turnErrors(simulated: SimulatedSession, result: AnalysisResult, errors: Errors): void {
  for (const truth of simulated.truth.halfTurns) {
    const found = result.taskSummary.halfTurn.find(
      (t) => Math.abs(t.startS - truth.onsetS) < 0.5 && t.direction === truth.direction,
    );
    add(errors, 'duration, s', found?.durationS, truth.endS - truth.onsetS);
    add(
      errors,
      'peak rate of the pelvis, %',
      found && (100 * found.peakRateDegPerS.pelvis) / truth.peakRateDegPerS.pelvis,
      100,
    );
    add(errors, 'separation out, deg', found?.separationOutDeg, truth.separationOutDeg);
    add(errors, 'separation back, deg', found?.separationBackDeg, truth.separationBackDeg);
    add(errors, 'lean into the turn, deg', found?.leanIntoTurnMeanDeg, truth.leanIntoTurnMeanDeg);
    add(errors, 'settled, s', found?.settleS, truth.stillFromS - truth.endS);
  }
}

function landingErrors(simulated: SimulatedSession, result: AnalysisResult, errors: Errors): void {
  simulated.truth.landings.forEach((truth, k) => {
    const found = result.taskSummary.landing[k];
    add(errors, 'touch, s', found?.t, truth.t);
    add(errors, 'pelvis peak, g', found?.peakVerticalAccelerationG.pelvis, truth.peakVerticalAccelerationG.pelvis);
    add(errors, 'pelvis turning, deg/s', found?.kneeTwistProxyDegPerS.pelvis, truth.peakTurningDegPerS.pelvis);
    add(errors, 'trunk turning, deg/s', found?.kneeTwistProxyDegPerS.trunk, truth.peakTurningDegPerS.trunk);
    add(errors, 'pelvis tilt, deg', found?.peakTiltDeg.pelvis, truth.peakTiltDeg.pelvis);
    add(errors, 'settled, s', found?.settleS, (truth.stillFromS ?? NaN) - truth.t);
  });
}

function falseContacts(name: string, steps: ScriptStep[]): void {
  let none = 0;
  let found = 0;
  let stances = 0;
  let seconds = 0;
  const cases: string[] = [];
  for (let seed = 1; seed <= SEEDS; seed += 1) {
    const simulated = session(seed, randomAthlete(seed), steps);
    const result = analyseRecording(toRecording(simulated, 'stand'));
    const { contacts } = simulated.truth;
    seconds += simulated.marks.slice(2).reduce((sum, m) => sum + m.endS - m.startS, 0);
    stances += result.stances.length;
    found += result.contacts.length;
    for (const contact of result.contacts) {
      const truth = contacts.filter((c) => c.type === contact.type && Math.abs(c.t - contact.t) < SAME_S);
      if (truth.length > 0) continue;
      none += 1;
      const touched = contacts.filter((c) => c.t < contact.t && c.type === 'initial_contact').at(-1);
      cases.push(`${seed}: ${contact.type} ${touched ? `${(contact.t - touched.t).toFixed(2)} s after a touch` : ''}`);
    }
  }
  console.log(
    `${name.padEnd(25)}${seconds.toFixed(0).padStart(5)} s  contacts ${String(found).padStart(4)}, none ${String(none).padStart(4)} (${((60 * none) / seconds).toFixed(2)} a minute)  stances ${stances}${cases.length > 0 ? `   first: ${cases.slice(0, 3).join('; ')}` : ''}`,
  );
}
