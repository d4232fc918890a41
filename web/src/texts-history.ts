/** The sentences of the history over sessions: the plot, its table, what is written down along it, the ladder, two sessions. */
import type { AnnotationKind, HistoryBaseline, LadderTask } from '@ambipede/shared';

const sessions = (n: number) => `${n} ${n === 1 ? 'session' : 'sessions'}`;

export const HISTORY_TEXTS = {
  months: {
    title: (metric: string, task: string) => `${metric}: ${task}, session by session`,
    task: 'Task of the sessions',
    lead: 'Each mark is one session: left minus right over its trials, drawn towards the side that has more, with its 95 % interval. Newest on top. Choose a session to see its trials.',
    emptyTitle: 'No session to show',
    empty:
      'No session has a left-right difference of this metric in this task. Choose another one, or record a trial of it.',
    n: (left: number, right: number) => `n ${left} left, ${right} right`,
    trials: (used: number, leftOut: number) =>
      `${used} ${used === 1 ? 'trial' : 'trials'}${leftOut === 0 ? '' : `, ${leftOut} without a usable difference`}`,
    tableTitle: 'The sessions as a table',
    columns: {
      session: 'Session',
      difference: 'Difference, left minus right',
      interval: '95 % interval',
      n: 'Stances',
      trials: 'Trials',
      seat: 'Sensors’ seat',
      version: 'Version',
      counts: 'Counts',
    },
    interval: (low: string, high: string) => `${low} to ${high}`,
    seat: (value: string) => `within ±${value}`,
    seatUnknown: 'not known',
    counts: {
      yes: 'yes',
      version: 'no: other version',
      few: 'no: too few stances',
      both: 'no: other version, and too few stances',
    },
    open: (when: string) => `Trials of the session of ${when}`,
    legend: {
      title: 'What the marks mean',
      counted: 'counts',
      version: 'other version: counts for nothing else',
      few: 'too few stances: nothing may be concluded',
      seat: 'could be how the sensors sat that day',
      baseline: 'baseline',
      change: 'detectable change',
      annotation: 'written down, by its number in the list',
    },
    session: {
      title: (when: string) => `Session of ${when}`,
      none: 'The trials of this session are not in the list of trials. Load the page again.',
      close: 'Close this session',
      discarded: 'discarded, left out',
    },
  },

  conclusions: {
    title: 'Over the sessions',
    baseline: 'Baseline',
    basis: {
      'before the injury': 'sessions before the first injury noted',
      'all but the newest session': 'all sessions but the newest; no injury is noted',
    } satisfies Record<HistoryBaseline['basis'], string>,
    baselineIs: (mean: string, low: string, high: string, n: number, basis: string) =>
      `${mean}, band ${low} to ${high}, n = ${sessions(n)} (${basis}).`,
    baselineMissing: (n: number, missing: number, basis: string) =>
      `Not known: n = ${sessions(n)} (${basis}); it takes ${missing} more.`,
    change: 'Detectable change',
    changeOwn: (change: string, n: number) => `${change}, from n = ${sessions(n)} of this athlete.`,
    changePublished: (change: string, source: string, missing: number) =>
      `${change}: a published default, not of this athlete (${source}). ${missing} more sessions in the baseline give an own one.`,
    changeNone: (missing: number) =>
      `Not known. No change can be told from day-to-day noise until the baseline has ${sessions(missing)} more.`,
    trend: 'Trend',
    trendWords: {
      rising: 'Moves to the left',
      falling: 'Moves to the right',
      'no trend shown': 'No trend shown, which does not show that nothing changes',
    },
    trendIs: (words: string, slope: string, percent: string, low: string, high: string, n: number) =>
      `${words}: ${slope} in 30 days, ${percent} % interval ${low} to ${high}, n = ${n} days with a session.`,
    trendMissing: (n: number, missing: number) =>
      `Not known: n = ${n} days with a session that counts; it takes ${missing} more.`,
    caution: 'A difference is a finding in a movement, no diagnosis, and no session clears anybody.',
  },

  annotations: {
    title: 'Written down along the way',
    lead: 'The words and numbers of those who are named; nobody checks them and nothing is computed from a pain. The first injury ends the baseline.',
    empty: 'Nothing is written down yet.',
    add: 'Write something down',
    addTitle: 'New entry',
    kindLabel: 'What',
    kind: {
      injury: 'Injury',
      pain: 'Pain',
      surface: 'Surface',
      shoes: 'Shoes',
      note: 'Note',
    } satisfies Record<AnnotationKind, string>,
    at: 'When it was so',
    author: 'Who says so',
    side: 'Side',
    sides: { left: 'Left', right: 'Right', both: 'Both', unknown: 'Not said' },
    sideSaid: { left: 'left', right: 'right', both: 'both sides' },
    pain: 'Pain, 0 to 10',
    painWhy: '0 is no pain, 10 the worst imaginable.',
    painChoose: 'Choose',
    painIs: (level: number) => `${level} of 10`,
    text: {
      injury: 'Which injury (may be empty)',
      pain: 'Where, and when it hurts (may be empty)',
      surface: 'Which surface',
      shoes: 'Which shoes',
      note: 'The note',
    } satisfies Record<AnnotationKind, string>,
    by: (author: string, when: string) => `says ${author}, written down ${when}`,
    offAxis: 'not on the time axis: too far from the sessions',
    save: 'Save',
    cancel: 'Cancel',
    change: 'Change',
    remove: 'Remove',
    named: (what: string, kind: string, when: string) => `${what}: ${kind}, ${when}`,
    ask: 'Remove this entry for good? If it is the first injury, the baseline changes with it.',
    keep: 'Keep it',
    added: 'Written down.',
    changed: 'Changed.',
    removed: 'Removed.',
    wrong: {
      at: 'Give a date and a time.',
      future: 'That lies in the future. Give the time at which it was so.',
      author: 'Type the name of whoever says so.',
      pain: 'Choose a number from 0 to 10.',
      text: {
        injury: '',
        pain: '',
        surface: 'Say which surface it was.',
        shoes: 'Say which shoes they were.',
        note: 'Write the note.',
      } satisfies Record<AnnotationKind, string>,
      long: (max: number) => `At most ${max} characters.`,
    },
  },

  ladder: {
    title: (metric: string) => `${metric}: from task to task`,
    lead: 'The newest session of each task, from simple to hard. Each has its own date, so they may be weeks apart.',
    task: {
      stand: 'Quiet stand',
      'single-leg-stand': 'Single-leg stands',
      walk: 'Walk',
      run: 'Run',
      strides: 'Strides',
      'run-up': 'Run-up and take-off',
    } satisfies Record<LadderTask, string>,
    notMeasured: 'Not measured',
    noSuchValue: 'This metric does not exist in this task',
    stands: (left: number, right: number) => `n ${left} left, ${right} right stands`,
    quietStands: (n: number) => `n = ${n} ${n === 1 ? 'stand' : 'stands'}`,
    lean: {
      pelvis: { up: 'pelvis, right side up', down: 'pelvis, left side up', level: 'pelvis, level' },
      trunk: { up: 'trunk, leans to the left', down: 'trunk, leans to the right', level: 'trunk, upright' },
    },
    leanIs: 'Resting lean on both feet: no left against right, so it is not drawn on this scale.',
    uncertainty: (value: string) => `standard uncertainty ±${value}`,
    noUncertainty: 'uncertainty not known',
    tooFew: 'Too few to conclude anything',
    noInterval: 'no interval: fewer than two stands a side',
  },

  comparison: {
    title: 'Two sessions',
    lead: 'How far the difference has moved from one session to the other.',
    from: 'From',
    to: 'To',
    choose: 'Choose a session',
    none: 'It takes two sessions of this task and metric.',
    same: 'That is the same session twice. Choose another one.',
    change: (value: string, towards: string, low: string, high: string) =>
      `Change ${value}${towards}, 95 % interval ${low} to ${high}.`,
    towards: { left: ' towards the left', right: ' towards the right', equal: '' },
    of: (which: string, when: string, value: string, low: string, high: string, n: string) =>
      `${which} ${when}: ${value}, 95 % interval ${low} to ${high}, ${n}.`,
    tooFew: 'One of the two has too few stances a side: nothing is concluded.',
    scatter: {
      yes: 'More than step-to-step scatter.',
      no: 'Not more than step-to-step scatter, which does not show that nothing changed.',
    },
    beyond: {
      yes: (change: string) => `More than the detectable change (${change}).`,
      no: (change: string) => `Not more than the detectable change (${change}): it could be noise from day to day.`,
      published: (source: string) => `That detectable change is a published default, not of this athlete (${source}).`,
      unknown: 'No detectable change is known: it could be noise from day to day.',
    },
    seat: {
      yes: (value: string) => `Could be how the sensors sat on the two days (within ±${value}).`,
      no: (value: string) => `More than how the sensors sat on the two days can make (within ±${value}).`,
      unknown: 'How the sensors sat on the two days is not known, and could make it.',
    },
    version: (version: string) => `Both by version ${version}.`,
  },
} as const;
