/** What the server says of a run, sentence by sentence. */
import type { ReAnalysisRun } from '@ambipede/shared';
import { whenText } from '../numbers.ts';
import { TEXTS } from '../texts.ts';

export function runWords(run: ReAnalysisRun): string[] {
  const words = TEXTS.reAnalysis;
  const dealtWith = run.done + run.failed;
  const rest = run.trialsTotal - dealtWith;
  const said = [words.began(whenText(run.startedUtcMs), run.version)];
  if (run.state === 'running') {
    said.push(words.dealtWith(dealtWith, run.trialsTotal));
    if (run.failed > 0) said.push(words.kept(run.failed));
    said.push(run.remainingS === null ? words.leftUnknown : words.left(timeText(run.remainingS)), words.mayClose);
    return said;
  }
  if (run.endedUtcMs !== null) said.push(words.ended(whenText(run.endedUtcMs)));
  said.push(words.again(run.done));
  if (run.failed > 0) said.push(words.kept(run.failed));
  if (rest > 0) said.push(run.state === 'done' ? words.elsewhere(rest) : words.untouched(rest));
  return said;
}

function timeText(seconds: number): string {
  const words = TEXTS.reAnalysis;
  if (seconds < 60) return words.seconds(seconds);
  const minutes = Math.round(seconds / 60);
  return minutes < 60 ? words.minutes(minutes) : words.hours(Math.floor(minutes / 60), minutes % 60);
}
