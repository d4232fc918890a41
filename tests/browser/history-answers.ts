/** An invented athlete's months, as the server would tell them: before and after an injury, by two versions. */
import type { Annotation, SessionComparison, SessionDifference, SessionHistory, TaskLadder } from '@ambipede/shared';

export const DAY_MS = 86_400_000;
export const FIRST_UTC_MS = Date.UTC(2026, 2, 2, 16);

export function sessionOf(i: number, difference: number, over: Partial<SessionDifference> = {}): SessionDifference {
  return {
    sessionId: `h${i}`,
    utcMs: FIRST_UTC_MS + i * 21 * DAY_MS,
    version: '2.0.0',
    difference,
    ci95: [difference - 0.8, difference + 0.8],
    trials: 2,
    trialsLeftOut: 0,
    n: { left: 24, right: 23 },
    tooFewStances: false,
    placementUncertainty: 0.9,
    ...over,
  };
}

export function annotationOf(id: string, over: Partial<Annotation> = {}): Annotation {
  return {
    id,
    athleteId: 'a1',
    kind: 'note',
    atUtcMs: FIRST_UTC_MS + 30 * DAY_MS,
    authorName: 'Tilde Marsh',
    side: null,
    painLevel: null,
    text: 'Slept badly',
    createdUtcMs: FIRST_UTC_MS + 31 * DAY_MS,
    ...over,
  };
}

export const ANNOTATIONS: Annotation[] = [
  annotationOf('n1', { kind: 'shoes', text: 'New spikes' }),
  annotationOf('n2', {
    kind: 'injury',
    atUtcMs: FIRST_UTC_MS + 95 * DAY_MS,
    side: 'left',
    text: 'Ankle rolled in training',
  }),
  annotationOf('n3', { kind: 'pain', atUtcMs: FIRST_UTC_MS + 130 * DAY_MS, side: 'left', painLevel: 3, text: '' }),
];

export const SESSIONS: SessionDifference[] = [
  sessionOf(0, -0.6, { version: '1.9.0' }),
  sessionOf(1, 0.4),
  sessionOf(2, 0.9),
  sessionOf(3, 0.2),
  sessionOf(4, 0.7),
  sessionOf(5, 4.1, { n: { left: 5, right: 6 }, trials: 1, tooFewStances: true, ci95: [1.6, 6.6] }),
  sessionOf(6, 3.3, { trials: 3, trialsLeftOut: 1 }),
  sessionOf(7, 2.2, { placementUncertainty: null }),
];

export function historyOf(over: Partial<SessionHistory> = {}): SessionHistory {
  return {
    athleteId: 'a1',
    task: 'run',
    metric: 'swingSideDropDeg',
    sessions: SESSIONS,
    versions: [
      { version: '1.9.0', sessions: 1, used: false },
      { version: '2.0.0', sessions: 7, used: true },
    ],
    baseline: { basis: 'before the injury', sessions: 4, mean: 0.55, band: [-0.4, 1.5], missingSessions: 0 },
    detectableChange: { basis: 'own sessions', change: 1.3, sessions: 4 },
    trend: { state: 'no trend shown', sessions: 6, slopePerDay: 0.02, ci95: [-0.01, 0.04], coverage: 0.972 },
    annotations: ANNOTATIONS,
    remarks: [
      'Sessions analysed by version 1.9.0 (1) are shown, and left out of baseline, detectable change and trend, which are of version 2.0.0 alone.',
      'Sessions with too few stances a side (1) are shown, and left out of baseline and trend.',
    ],
    ...over,
  };
}

const { sessionId, utcMs, version } = SESSIONS[7]!;

export function ladderOf(over: Partial<TaskLadder> = {}): TaskLadder {
  return {
    athleteId: 'a1',
    metric: 'swingSideDropDeg',
    rungs: [
      {
        task: 'stand',
        state: 'resting lean',
        segment: 'pelvis',
        leanDeg: -1.4,
        uncertaintyDeg: 0.7,
        n: 2,
        ...{ sessionId, utcMs, version },
      },
      {
        task: 'single-leg-stand',
        state: 'difference of stands',
        difference: -1.5,
        ci95: null,
        n: { left: 1, right: 2 },
        tooFewStances: true,
        ...{ sessionId, utcMs, version },
      },
      { task: 'walk', state: 'difference', ...sessionOf(6, 0.3) },
      { task: 'run', state: 'difference', ...SESSIONS[7]! },
      { task: 'strides', state: 'not measured' },
      { task: 'run-up', state: 'no such value' },
    ],
    remarks: ['The tasks are of different sessions: see their dates.'],
    ...over,
  };
}

export function comparisonOf(over: Partial<SessionComparison> = {}): SessionComparison {
  return {
    athleteId: 'a1',
    task: 'run',
    metric: 'swingSideDropDeg',
    version: '2.0.0',
    from: SESSIONS[6]!,
    to: SESSIONS[7]!,
    change: -1.1,
    ci95: [-2.2, 0],
    tooFewStances: false,
    excludesZero: false,
    detectableChange: { basis: 'own sessions', change: 1.3, sessions: 4 },
    beyondDetectable: false,
    placementUncertainty: null,
    couldBePlacement: null,
    ...over,
  };
}
