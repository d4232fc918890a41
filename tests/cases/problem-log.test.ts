import { expect, test } from 'vitest';
import { PROBLEM_LINES_PER_MINUTE, PROBLEM_SOURCES_MAX, limitedProblems } from '../../server/src/ops/problem-log.ts';

function start() {
  const lines: string[] = [];
  const clock = { nowMs: 5 };
  const tell = limitedProblems(
    (problem, deviceId) => lines.push(`${problem} ${deviceId ?? ''}`),
    () => clock.nowMs,
  );
  return { lines, clock, tell };
}

test('a flood of problems fills so many lines a minute, and what was left out is said with the next one', () => {
  const { lines, clock, tell } = start();
  for (let i = 0; i < PROBLEM_LINES_PER_MINUTE + 7; i += 1) tell('refused', 'x');
  expect(lines).toEqual(Array(PROBLEM_LINES_PER_MINUTE).fill('refused x'));
  clock.nowMs += 60_000;
  tell('other');
  tell('other');
  expect(lines.slice(PROBLEM_LINES_PER_MINUTE)).toEqual([
    '7 more problems were not written down; /metrics counts them by kind. ',
    'other ',
    'other ',
  ]);
});

test('the flood of one sensor hides nothing of another', () => {
  const { lines, tell } = start();
  for (let i = 0; i < 10 * PROBLEM_LINES_PER_MINUTE; i += 1) tell('refused', 'x');
  tell('battery empty', 'y');
  tell('the disk is full');
  expect(lines.slice(-2)).toEqual(['battery empty y', 'the disk is full ']);
});

test('a flood of strangers and of made-up sensors hides nothing that the server says of itself', () => {
  const { lines, tell } = start();
  for (let i = 0; i < 10 * PROBLEM_SOURCES_MAX; i += 1) {
    tell('bad-magic: not a frame of this protocol');
    tell('not-enrolled: no such sensor', `made-up-${i}`);
  }
  tell('The raw log does not take samples: no space left');
  expect(lines.at(-1)).toBe('The raw log does not take samples: no space left ');
});

test('made-up sensors get together what one gets', () => {
  const { lines, tell } = start();
  for (let i = 0; i < 10 * PROBLEM_SOURCES_MAX; i += 1) tell('refused', `made-up-${i}`);
  expect(lines).toHaveLength(PROBLEM_SOURCES_MAX + PROBLEM_LINES_PER_MINUTE);
});
