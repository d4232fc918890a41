/** The sentences of a return episode, on screen and on paper. No word here clears anybody: a person decides. */
import type { ReturnBaseline, ReturnSession, ReturnState, Side } from '@ambipede/shared';
import { plural } from './texts-sensors.ts';

const STATE: Record<ReturnState, string> = {
  within: 'Within the limit',
  outside: 'Outside the limit',
  'cannot tell': 'Cannot tell yet',
  'not measured': 'Not measured since the onset',
};
const ANSWER: Record<ReturnSession['answer'], string> = {
  within: 'within',
  outside: 'outside',
  'cannot tell': 'cannot tell',
};
const BASELINE: Record<ReturnBaseline, string> = {
  'before the injury': 'Own sessions before the onset',
  'unaffected side': 'The unaffected side',
};
const AFFECTED: Record<Side, string> = { left: 'left side affected', right: 'right side affected' };
const THAN: Record<ReturnBaseline, string> = {
  'before the injury': 'than before the onset',
  'unaffected side': 'than on the other side',
};

export const RETURN_TEXTS = {
  return: {
    nav: 'Return',
    title: (name: string) => `Return to training: ${name}`,
    lead: 'What was measured since an injury, held against limits that you choose. The page shows; you decide. It clears nobody.',
    emptyTitle: 'No return episode yet',
    empty: 'An episode starts with an injury, and holds the question that is to be decided.',
    notLoaded: 'This page could not be fetched. Check that the server is running, then load it again.',
    newEpisode: 'New episode',
    changeEpisode: 'Change the episode',
    episodes: 'Episodes, latest onset first',
    onset: 'Onset',
    onsetNote: 'Sessions of that day count as after the onset.',
    onsetWrong: 'Give the day of the onset.',
    since: (day: string, side: Side) => `Onset ${day}, ${AFFECTED[side]}`,
    side: 'Affected side',
    sideWrong: 'Choose the affected side.',
    question: 'Question to be decided',
    baseline: 'Compare with',
    baselineName: BASELINE,
    baselineNote:
      'The unaffected side is the weaker comparison: it can change after an injury too. It stands in where too few sessions lie before the onset.',
    blank: 'Say it in a few words.',
    long: (most: number) => `At most ${most} characters.`,
    save: 'Save',
    cancel: 'Cancel',
    report: 'Report to print',

    criteriaTitle: 'Criteria, the most limiting first',
    noCriteria: 'No criterion yet. Add what has to be within which limit.',
    full: (most: number) => `An episode holds at most ${most} criteria.`,
    add: 'Add a criterion',
    change: 'Change',
    changeOf: (what: string) => `Change the criterion ${what}`,
    remove: 'Remove',
    removeOf: (what: string) => `Remove the criterion ${what}`,
    removeSure: 'Remove this criterion? Its limit is lost; the measurements stay.',
    keep: 'Keep it',
    task: 'Task',
    metric: 'Metric',
    limit: (unit: string) => `Limit, plus or minus${unit === '' ? ' (no unit)' : `, in ${unit}`}`,
    limitNote: 'How far left minus right may lie from the comparison, to either side.',
    limitWrong: (most: string) => `Give a number above 0 and at most ${most}, such as 2.5.`,
    inARow: 'Sessions in a row',
    within: (what: string, limit: string, sessions: number) =>
      `${what}: within ±${limit}, ${sessions === 1 ? 'the newest session' : `${sessions} sessions in a row`}`,

    state: STATE,
    answer: ANSWER,
    missing: {
      'stances a side': (n: number) => `about ${plural(n, 'more stance', 'more stances')} a side`,
      sessions: (n: number) => `${plural(n, 'more session', 'more sessions')}`,
    },
    noHelp: 'more of the same would not help',
    row: (done: number, wanted: number) => `${done} of ${wanted} in a row within the limit`,
    newest: (when: string, age: string) => `Newest session ${when}, ${age} ago`,
    moved: (amount: string, side: Side, basis: ReturnBaseline) => `${amount} more on the ${side} ${THAN[basis]}`,
    unmoved: { 'before the injury': 'As before the onset', 'unaffected side': 'Both sides alike' } satisfies Record<
      ReturnBaseline,
      string
    >,
    noChange: 'No usable difference',
    interval: (low: string, high: string) => `90 % interval ${low} to ${high}`,
    noInterval: 'no interval',
    difference: (value: string) => `left minus right ${value}`,
    stances: (left: number, right: number) => `n ${left} left, ${right} right`,
    tooFew: 'too few stances',
    seat: (value: string) => `seat of the sensors ±${value}`,
    drawn: (limit: string) =>
      `Plumb line: the comparison. Dashed lines: the limit, ±${limit}. Mark: the change of left minus right. Bar: its 90 % interval. More on the left is drawn to the left.`,
    picture: (state: string, change: string, interval: string, limit: string) =>
      `${state}: change ${change}, ${interval}, limit ±${limit}.`,
    ends: { left: 'left', right: 'right' },
    sessions: 'Sessions since the onset, newest first',
    before: (sessions: number, mean: string, error: string) =>
      `Compared with the mean of ${plural(sessions, 'session', 'sessions')} before the onset: ${mean}, standard error ${error}.`,
    weaker: (why: string) => `Weaker comparison, with the unaffected side. ${why}`,
    version: (version: string) => `Analysed by version ${version}.`,
    remarks: 'Remarks',

    decisionTitle: 'Decision',
    decisionLead:
      'The states above decide nothing. Whoever decides takes in more than these numbers: healing, pain, strength, the athlete’s own view. What is recorded here stays as it is, with the time of the server.',
    decider: 'Your name',
    deciderNote: 'As typed; nobody checks it.',
    decision: 'What you decided, in your own words',
    decisionNote: 'Return is gradual: say what is allowed, how much of it, and when to look again.',
    reason: 'Why',
    record: 'Record the decision',
    forGood: 'It cannot be changed or removed afterwards. A later decision is added below it.',
    recorded: 'Recorded',
    decisions: 'Decisions recorded, oldest first',
    noDecisions: 'No decision is recorded.',
    by: (name: string, when: string) => `${name}, ${when}`,
    stood: 'How the criteria stood then:',
    stoodNone: 'There was no criterion then.',
    stoodUnknown: 'How the criteria stood then was not kept: it was recorded by an earlier version.',
    changeThen: (change: string, interval: string) => `change of left minus right ${change}, ${interval}`,
    newestThen: (day: string) => `newest session ${day}`,
    because: (why: string) => `Why: ${why}`,
  },

  report: {
    title: (name: string) => `Report on a return to training: ${name}`,
    made: (when: string) => `As it stood on ${when}`,
    lead: 'This sheet reports measurements. It gives no diagnosis and clears nobody; a person decides.',
    print: 'Print',
    back: 'Back to the episode',
    question: 'Question',
    method: 'How to read it',
    methodText: [
      'Each criterion looks at left minus right in one task, and at how far it lies from the comparison. Its 90\u00a0% interval is where that change plausibly lies.',
      'Within the limit: the whole interval lies inside the limit. Outside: the whole interval lies beyond it. Otherwise nothing can be told yet. This is the test of equivalence by two one-sided tests (Schuirmann 1987).',
      'n counts the stances of a side. The seat of the sensors is how much the way they were put on that day could shift the value; the interval holds it.',
      'Each session is tested by itself, and nothing is corrected for many criteria at once.',
    ],
    signatures: 'Signatures',
    lines: ['Decided by (name, signature)', 'Place, date', 'Athlete, or guardian of a minor (signature)'],
  },
} as const;
