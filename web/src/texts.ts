/** Every English sentence of the pages, here and in texts-sensors.ts. Values come in as arguments; nothing is glued together elsewhere. */
import type { LeadInStep, Place, Side, Task, TrialState } from '@ambipede/shared';
import { ACCESS_TEXTS } from './texts-access.ts';
import { CUE_TEXTS } from './texts-cue.ts';
import { HISTORY_TEXTS } from './texts-history.ts';
import { RE_ANALYSIS_TEXTS } from './texts-re-analysis.ts';
import { RETURN_TEXTS } from './texts-return.ts';
import { SENSOR_TEXTS, plural } from './texts-sensors.ts';
import { SETUP_TEXTS } from './texts-setup.ts';
import { TASK_TEXTS } from './texts-task.ts';

const TASK: Record<Task, string> = {
  stand: 'Quiet stand',
  'single-leg-stand': 'Single-leg stand, foot not marked',
  'single-leg-stand-left': 'Single-leg stand, left foot',
  'single-leg-stand-right': 'Single-leg stand, right foot',
  walk: 'Walk',
  run: 'Run',
  strides: 'Strides',
  'run-up': 'Run-up and take-off',
  landing: 'Landing, feet not marked',
  'landing-both': 'Landing on both feet',
  'landing-left': 'Landing on the left foot',
  'landing-right': 'Landing on the right foot',
  'half-turn': 'Half-turn',
};

const PLACE: Record<Place, string> = { pelvis: 'Pelvis', sternum: 'Sternum' };
const SIDE: Record<Side, string> = { left: 'Left', right: 'Right' };
const LEAD_IN: Record<LeadInStep, { title: string; what: string }> = {
  reference_stand: {
    title: 'Reference stand',
    what: 'About 5 seconds, back against a wall, feet level, looking ahead. Do not move.',
  },
  forward_bow: { title: 'Forward bows', what: 'Three slow bows straight forward, and upright again after each.' },
};
const TRIAL_STATE: Record<TrialState, string> = {
  running: 'running',
  're-analysing': 'final result is being made',
  final: 'final',
  failed: 'failed',
};

export const TEXTS = {
  product: 'Ambipede',
  titleOf: (page: string) => `${page} · Ambipede`,
  task: TASK,
  place: PLACE,
  side: SIDE,
  leadIn: LEAD_IN,
  trialState: TRIAL_STATE,
  dash: '–',

  nav: {
    label: 'Pages',
    athletes: 'Athletes',
    sensors: 'Sensors',
    live: 'Live',
    history: 'History',
    skip: 'Skip to the content',
    unknown: 'There is no page at this address.',
    home: 'Go to the athletes',
  },

  wait: {
    loading: 'Loading …',
    offlineTitle: 'The server does not answer',
    offline: 'Check that it is running and that this device is on its network. The page keeps trying.',
    errorTitle: 'That did not work',
    retry: 'Try again',
    oldList: (seconds: number) => `The server does not answer. What you see is ${seconds} s old.`,
  },

  api: {
    timeout: 'The server took too long to answer. Try again.',
    unreachable: 'The server cannot be reached. Check that it is running and that this device is on its network.',
    unreadable: (status: number) => `The server answered with something that this page cannot read (status ${status}).`,
  },

  roster: {
    title: 'Athletes',
    emptyTitle: 'Nobody here yet',
    empty: 'Add the first athlete, then say on the Sensors page which sensor sits where.',
    lastTrial: (when: string) => `Last trial ${when}`,
    noTrial: 'No trial yet',
    trials: (n: number) => plural(n, 'trial', 'trials'),
    sessionOpen: 'Session open',
  },

  sensor: {
    none: 'no sensor assigned',
    live: 'live',
    behind: (age: string) => `${age} behind, catching up`,
    catchingUp: 'catching up',
    silent: (age: string) => `connected, but nothing for ${age}`,
    silentNever: 'connected, but nothing has arrived',
    disconnected: (age: string) => `not connected, last heard ${age} ago`,
    disconnectedNever: 'not connected',
    neverSeen: 'never heard from',
    unknown: 'not known while the connection is lost',
    lost: (n: number) => plural(n, 'sample lost', 'samples lost'),
    battery: (percent: number) => `battery ${Math.round(percent)} %`,
    clock: (ms: string) => `clock ±${ms} ms`,
  },

  ...ACCESS_TEXTS,
  ...CUE_TEXTS,
  ...HISTORY_TEXTS,
  ...RE_ANALYSIS_TEXTS,
  ...RETURN_TEXTS,
  ...SENSOR_TEXTS,
  ...SETUP_TEXTS,
  ...TASK_TEXTS,

  live: {
    title: (name: string) => `Live: ${name}`,
    connecting: 'Connecting …',
    lost: (seconds: number) => `Connection lost ${seconds} s ago; what you see is old`,
    never: 'No connection to the live feed yet. Nothing shown here is current.',
    refused: (why: string) => `No live feed: ${why}`,
    lostAloud: 'Connection lost. What you see is old.',
    restored: 'Connected',
    trialAloud: {
      running: 'Trial running',
      provisional: 'Trial stopped, provisional result',
      final: 'Final result ready',
    },
    noSession: 'No session is open for this athlete.',
    startSession: 'Start session',
    endSession: 'End session',
    startTrial: 'Start trial',
    stopTrial: 'Stop trial',
    readFirst: 'Read the cautions',
    task: 'Task',
    running: (task: string, elapsed: string) => `${task}, ${elapsed}`,
    runningUnknown: (task: string) => `${task}, connection lost`,
    leadInTitle: 'Lead-in',
    leadInWhy: 'It tells how the sensors sit on the body. Without it the results are weaker.',
    stepDone: (times: number) => (times === 0 ? 'not done' : times === 1 ? 'done' : `done ${times} times`),
    mountingTitle: 'How the sensors sit',
    mountingNone: 'No report yet.',
    stancesTitle: 'Step by step, newest on top',
    noStances: 'No stance yet. Each one appears here as it ends.',
    unknownSide: (n: number) => plural(n, 'stance of unknown side', 'stances of unknown side'),
    allMetrics: 'Every metric',
    openTrial: 'Open this trial',
    failed: (why: string) => `The final result could not be made: ${why} The raw data is kept.`,
  },

  tilt: {
    pelvis: 'Pelvic obliquity',
    trunk: 'Trunk lateral tilt',
    pelvisWords: { left: 'left lower', right: 'right lower', level: 'level' },
    trunkWords: { left: 'leans left', right: 'leans right', level: 'upright' },
    noValue: 'no current value',
    noSignal: 'no signal',
    noSensor: 'no sensor',
    noConnection: 'connection lost',
    ends: { left: 'left', right: 'right' },
    now: 'now',
    ago: (seconds: number) => `${seconds} s`,
    describe: (title: string, seconds: number) =>
      `${title} over the last ${seconds} seconds, newest on top. The line swings to the lower side.`,
  },

  pair: {
    standing: { left: 'Standing on the left', right: 'Standing on the right' },
    metric: 'Metric',
    show: (label: string) => `Show ${label} large`,
    sd: (value: string) => `sd ${value}`,
    n: 'n',
    more: { left: 'more on the left', right: 'more on the right', equal: 'no difference in the mean' },
    interval: (low: string, high: string) => `95 % interval ${low} to ${high}`,
    noInterval: 'no interval yet',
    differenceIs: 'Difference: left minus right, drawn towards the side that has more. The bar is its 95 % interval.',
    placement: 'Depends on how the sensors sit.',
    placementBy: (value: string) => `Depends on how the sensors sit: within ±${value} (hatched).`,
    sensorBy: (value: string) => `Worn sensors alone can make ±${value} (hatched).`,
    verdict: {
      'more than scatter': 'More than step-to-step scatter',
      'could be placement': 'More than step-to-step scatter, but sensors worn on skin could make it',
      'not more than scatter': 'Not more than step-to-step scatter. That does not show that both sides are equal.',
      'not measured': 'Not measured',
    },
    tooFew: (left: number, right: number) => {
      const parts = [left > 0 ? `${left} left` : '', right > 0 ? `${right} right` : ''].filter((part) => part !== '');
      return parts.length === 0 ? 'No verdict yet' : `No verdict yet: ${parts.join(' and ')} missing`;
    },
    provisional: 'Provisional',
    final: 'Final',
    empty: 'No metric has been measured.',
  },

  groups: { time: 'Time on and off the ground', pelvis: 'Pelvis', trunk: 'Trunk', load: 'Shock and turn' },

  history: {
    title: (name: string) => `History: ${name}`,
    emptyTitle: 'No trial yet',
    empty: 'Trials appear here as soon as they have been stopped.',
    allTasks: 'All tasks',
    tasks: 'Task',
    lead: 'Each row is a trial. The mark is the difference between left and right, the bar its 95 % interval.',
    mixed: (versions: string) =>
      `Made by different versions (${versions}): differences between these rows can come from the version. The newest has filled marks.`,
    notMeasured: 'not measured',
    noneOfTask: 'No trial of this task.',
    bringIn: 'Bring in a recording',
    stances: (left: number, right: number) => `${left} left, ${right} right`,
    version: (version: string) => `version ${version}`,
  },

  trial: {
    title: (task: string) => `Trial: ${task}`,
    exportTitle: 'Files for other programs',
    exportRecording: 'Recording (Motion-BIDS, tar)',
    exportStances: 'Stances (CSV)',
    exportObservations: 'Differences (HL7 FHIR, JSON)',
    print: 'Print',
    stancesTitle: 'The stances behind it',
    noStances: 'No stance was kept.',
    quality: 'What this recording can and cannot tell',
    lost: (n: number, why: string) => `${plural(n, 'stance', 'stances')} left out${why === '' ? '' : ` (${why})`}.`,
    gaps: (n: number) => `${plural(n, 'gap', 'gaps')} in the signal.`,
    settling: (seconds: string) => `The first ${seconds} s were still settling.`,
    nothing: 'Nothing to remark.',
    reason: { gap: 'gap in the signal', 'side uncertain': 'side not certain', incomplete: 'incomplete' },
    columns: { number: 'No.', side: 'Side', at: 'Contact at', sure: 'Side sure' },
    problem: (why: string) => `This trial has no result: ${why} The raw data is kept.`,
    making: 'The final result is being made from the stored raw data.',
    running: 'This trial is still running.',
    watch: 'Watch it live',
    lasted: (text: string) => `lasted ${text}`,
  },

  mounting: {
    source: {
      'lead-in': 'known from the lead-in',
      'reference stand and movement': 'known from the reference stand and the movement; bows would make it surer',
      movement: 'guessed from the movement alone, so weaker',
      none: 'not known',
    },
    zero: (deg: string) => `; level to within ±${deg}°.`,
  },

  cautions: {
    title: 'Cautions',
    before: 'Before the first trial of this session',
    acknowledge: 'Read, with the athlete',
  },
} as const;
