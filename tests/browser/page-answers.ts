/** What the mock server answers about an invented club: one athlete with two sensors, a session, and a few trials. */
import type { KnownSensor, SessionView, Task, TrialSummary, TrialView } from '@ambipede/shared';
import { WAVEFORM_KEYS, WAVEFORM_POINTS } from '@ambipede/shared';
import { comparisonOf, historyOf, ladderOf } from './history-answers.ts';
import { resultOf, sensorStatus, stanceOf, type World } from './page-world.ts';

const DAY_MS = 86_400_000;
const FIRST_UTC_MS = Date.UTC(2026, 8, 1, 16);
const TASKS: Task[] = ['walk', 'run', 'run', 'single-leg-stand-left', 'run'];

export const ASYMMETRY: TrialView['asymmetry'] = {
  swingSideDropDeg: resultOf(2.4),
  leanToStanceMeanDeg: resultOf(-1.2),
  contactTimeS: {
    ...resultOf(0.012),
    left: { n: 12, mean: 0.221, sd: 0.01 },
    right: { n: 12, mean: 0.209, sd: 0.011 },
  },
  obliquityExcursionDeg: { ...resultOf(0.3), verdict: 'not more than scatter' },
};

export const STANCES = Array.from({ length: 12 }, (_, i) => {
  const side = i % 2 === 0 ? 'left' : 'right';
  return stanceOf(i, side, { swingSideDropDeg: (side === 'left' ? 5.2 : 2.8) + ((i * 7) % 5) / 4 - 0.5 });
});

/** `startedUtcMs` of the session is that of the world's feed. */
export function answerAll({ server, now, mounting }: World): void {
  const trials = TASKS.map(trialOf).reverse();
  const startedUtcMs = now.session?.startedUtcMs ?? 0;
  const session: SessionView = {
    id: 's1',
    athleteId: 'a1',
    startedUtcMs,
    endedUtcMs: null,
    leadInStep: null,
    leadIn: [{ step: 'reference_stand', startUtcMs: startedUtcMs, endUtcMs: startedUtcMs + 6000 }],
    mounting: { pelvis: mounting, sternum: mounting },
    trials: [],
  };
  const details = { bodyMassKg: 61, dominantHand: 'right', preferredTakeOffFoot: 'left', notes: '' };
  const sensors: KnownSensor[] = (['pelvis', 'sternum'] as const).map((place) => ({
    deviceId: `${place}-01`,
    athleteId: 'a1',
    place,
    lastSeenUtcMs: FIRST_UTC_MS,
    enrolled: true,
  }));
  const both = [sensorStatus('pelvis', 'streaming'), sensorStatus('sternum', 'catching-up')];
  const athlete = { id: 'a1', name: 'Mira Sand', ...details, sensors: both, openSessionId: 's1' };
  const other = { ...athlete, id: 'a2', name: 'Jon Heide', sensors: [], openSessionId: null };
  const told: Record<string, unknown> = {
    'GET /api/athletes': [
      { ...athlete, lastTrialUtcMs: trials[0]!.startedUtcMs, trialCount: trials.length },
      { ...other, lastTrialUtcMs: null, trialCount: 0 },
    ],
    'GET /api/sensors': sensors,
    'GET /api/refused-sensors': [{ deviceId: 'spare', reason: 'not-enrolled', attempts: 3, lastUtcMs: FIRST_UTC_MS }],
    'GET /api/sessions/s1': session,
    'GET /api/athletes/a1/trials': trials,
    'GET /api/athletes/a1/session-history': historyOf(),
    'GET /api/athletes/a1/ladder': ladderOf(),
    'GET /api/athletes/a1/comparison': comparisonOf(),
    'GET /api/athletes/a1/history': trials.map((trial, i) => ({
      trialId: trial.id,
      task: trial.task,
      utcMs: trial.startedUtcMs,
      version: 'test',
      asymmetry: resultOf(2.4 - i / 3),
    })),
  };
  for (const trial of trials) {
    told[`GET /api/trials/${trial.id}`] = { ...viewOf(trial) };
    told[`GET /api/trials/${trial.id}/waveforms`] = { trialId: trial.id, version: 'test', waveforms: WAVEFORMS };
  }
  for (const [request, answer] of Object.entries(told)) server.answers.set(request, answer);
}

export function trialOf(task: Task, i = 0): TrialSummary {
  return {
    id: `t${i + 1}`,
    sessionId: 's1',
    athleteId: 'a1',
    task,
    state: 'final',
    startedUtcMs: FIRST_UTC_MS + i * 7 * DAY_MS,
    endedUtcMs: FIRST_UTC_MS + i * 7 * DAY_MS + 40_000,
    stanceCount: { left: 12, right: 12 },
    version: 'test',
    problem: null,
    bodyMassKg: 61,
    tags: [],
    note: '',
    discarded: false,
  };
}

function viewOf(trial: TrialSummary): TrialView {
  const noTasks = { stand: [], singleLegStand: [], runUp: [], landing: [], halfTurn: [] };
  return {
    ...trial,
    stances: STANCES,
    asymmetry: ASYMMETRY,
    quality: {
      gaps: 1,
      samplesFilled: 4,
      stancesLost: 1,
      stancesLostBy: { gap: 1 },
      mounting: {},
      settling: 0,
      remarks: [],
    },
    taskSummary: { ...noTasks, remarks: [] },
  };
}

const curve = (height: number) => {
  const mean = Array.from(
    { length: WAVEFORM_POINTS },
    (_, i) => height * Math.sin((i / (WAVEFORM_POINTS - 1)) * Math.PI),
  );
  return { n: 12, mean, sd: mean.map(() => 0.7) };
};
const curves = (height: number) => Object.fromEntries(WAVEFORM_KEYS.map((key, i) => [key, curve(height + i)]));
const WAVEFORMS = { left: curves(-5), right: curves(-3) };
