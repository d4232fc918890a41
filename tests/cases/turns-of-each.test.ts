import { setImmediate as nextTurn } from 'node:timers/promises';
import { describe, expect, test } from 'vitest';
import { TurnsOfEach } from '../../server/src/session/turns-of-each.ts';

/** Work that ends when it is told to. */
function work(name: string, log: string[]) {
  let end = (): void => undefined;
  const ended = new Promise<void>((resolve) => (end = resolve));
  const run = async (): Promise<string> => {
    log.push(`${name} begins`);
    await ended;
    log.push(`${name} ends`);
    return name;
  };
  return { run, end };
}

describe('turns', () => {
  test('on the same thing come one after the other, on different things they do not wait', async () => {
    const turns = new TurnsOfEach();
    const log: string[] = [];
    const [first, second, other] = ['first', 'second', 'other'].map((name) => work(name, log));
    const done = [turns.take(['a'], first!.run), turns.take(['a'], second!.run), turns.take(['b'], other!.run)];
    await nextTurn();
    expect(log).toEqual(['first begins', 'other begins']);
    for (const each of [second!, other!, first!]) each.end();
    expect(await Promise.all(done)).toEqual(['first', 'second', 'other']);
    expect(log.indexOf('first ends')).toBeLessThan(log.indexOf('second begins'));
  });

  test('on several things wait for all that was asked before, and hold up all that is asked after', async () => {
    const turns = new TurnsOfEach();
    const log: string[] = [];
    const [a, both, b] = ['a', 'both', 'b'].map((name) => work(name, log));
    const done = [turns.take(['a'], a!.run), turns.take(['a', 'b'], both!.run), turns.take(['b'], b!.run)];
    await nextTurn();
    expect(log).toEqual(['a begins']);
    for (const each of [b!, both!, a!]) each.end();
    await Promise.all(done);
    expect(log).toEqual(['a begins', 'a ends', 'both begins', 'both ends', 'b begins', 'b ends']);
  });

  test('go on after a failure, which only its own caller hears of', async () => {
    const turns = new TurnsOfEach();
    const failed = turns.take(['a'], () => Promise.reject(new Error('no')));
    const next = turns.take(['a'], () => Promise.resolve('yes'));
    await expect(failed).rejects.toThrow('no');
    expect(await next).toBe('yes');
  });
});
