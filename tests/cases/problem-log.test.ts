import { expect, test } from 'vitest';
import { PROBLEM_LINES_PER_MINUTE, limitedProblems } from '../../server/src/ops/problem-log.ts';

test('a flood of problems fills so many lines a minute, and what was left out is said with the next one', () => {
  const lines: string[] = [];
  let now = 5;
  const tell = limitedProblems(
    (problem, deviceId) => lines.push(`${problem} ${deviceId ?? ''}`),
    () => now,
  );
  for (let i = 0; i < PROBLEM_LINES_PER_MINUTE + 7; i += 1) tell('refused', 'x');
  expect(lines).toEqual(Array(PROBLEM_LINES_PER_MINUTE).fill('refused x'));
  now += 60_000;
  tell('other');
  tell('other');
  expect(lines.slice(PROBLEM_LINES_PER_MINUTE)).toEqual([
    '7 more problems were not written down; /metrics counts them by kind. ',
    'other ',
    'other ',
  ]);
});
