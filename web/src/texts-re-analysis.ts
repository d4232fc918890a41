/** The sentences about analysing stored trials again. */
import type { ReAnalysisState } from '@ambipede/shared';
import { plural } from './texts-sensors.ts';

const STATE: Record<ReAnalysisState, string> = {
  running: 'Under way',
  done: 'Done',
  cancelled: 'Cancelled',
  superseded: 'Ended, because a server of another version was started meanwhile',
};
const trials = (n: number) => plural(n, 'trial', 'trials');

export const RE_ANALYSIS_TEXTS = {
  reAnalysis: {
    title: 'Analyse again',
    link: 'Analyse older trials again',
    lead: 'Stored trials are analysed again from their raw samples, so that all of them can be compared. Each keeps the result that it has until the new one is stored. Live work comes first. Recorded decisions are not changed. It takes a keeper to start or cancel it.',
    nowTitle: 'Where the trials stand',
    version: (version: string) => `This server analyses with version ${version}.`,
    outdated: (n: number) =>
      n === 0 ? 'All results are of this version.' : `${trials(n)} with a result of another version.`,
    withoutResult: (n: number) => `${trials(n)} without a result, because the analysis failed. It may fail again.`,
    start: 'Analyse these again',
    startAll: 'Analyse all trials again',
    allNote: 'All takes in those of this version too: their results come out the same, unless samples have come late.',
    runTitle: 'Newest run',
    none: 'No run yet.',
    state: STATE,
    began: (when: string, version: string) => `Started ${when}, version ${version}.`,
    ended: (when: string) => `Ended ${when}.`,
    progress: 'Trials dealt with',
    dealtWith: (n: number, total: number) => `${n} of ${trials(total)} dealt with.`,
    again: (n: number) => `${trials(n)} analysed again.`,
    kept: (n: number) => `${trials(n)} could not be analysed again and ${n === 1 ? 'keeps' : 'keep'} what was there.`,
    untouched: (n: number) => `${trials(n)} not dealt with.`,
    elsewhere: (n: number) => `${trials(n)} had got a newer result otherwise, or had been removed.`,
    left: (time: string) => `About ${time} left, at the pace so far.`,
    leftUnknown: 'How long it takes is not known yet.',
    seconds: (n: number) => `${n} s`,
    minutes: (n: number) => `${n} min`,
    hours: (h: number, min: number) => `${h} h ${min} min`,
    mayClose: 'This page may be closed: the server goes on, also after a restart.',
    cancel: 'Cancel',
    cancelNote: 'The trial in hand is still finished. What has been analysed again stays so.',
    failuresTitle: 'Trials that keep what was there',
    openTrial: 'Open the trial',
    moreFailures: (n: number) => `Why ${trials(n)} more could not be analysed stands in the server’s log.`,
  },
} as const;
