/** Passwords: which are taken, and how they are kept. */
import { randomInt } from 'node:crypto';
import { hash, verify } from '@node-rs/argon2';
import { PASSWORD_CHARACTERS_MAX, PASSWORD_CHARACTERS_MIN } from '@ambipede/shared';
import { Turns } from '../session/turns.ts';

/** Argon2id as RFC 9106, section 4, recommends where memory is short: 64 MiB, 3 passes, 4 lanes. 2 is its number in the library. */
const COST = { algorithm: 2, memoryCost: 65_536, timeCost: 3, parallelism: 4 } as const;
/** Compared with where there is no account: whoever asks waits as long, and learns nothing. */
let noHash: Promise<string> | null = null;
/** One at a time: each takes 64 MiB. */
const turns = new Turns();
/** Those who wait longer than for this many are told to come again. */
export const PASSWORD_CHECKS_WAITING_MAX = 20;
let waiting = 0;

const FIRST_PASSWORD_GROUPS = 4;
const FIRST_PASSWORD_GROUP_LETTERS = 5;
/** No letters that are taken for another: 31, so 20 of them hold 99 bits. */
const LETTERS = '23456789abcdefghjkmnpqrstuvwxyz';

/** Words that the passwords of this program's users would be guessed with first. */
const GUESSED_FIRST = [
  'ambipede',
  'password',
  'passwort',
  'athletics',
  'qwertyuiop',
  'asdfghjkl',
  'abcdefghijkl',
  '1234567890',
  '0987654321',
];

/**
 * What keeps a password from being taken, in a sentence; null for nothing. No rule about kinds of characters, after ASVS 4.0.3, 2.1.9.
 */
export function faultOfPassword(password: string, login: string): string | null {
  const characters = [...password].length;
  if (characters < PASSWORD_CHARACTERS_MIN)
    return `The password has ${characters} characters. Take at least ${PASSWORD_CHARACTERS_MIN}: a few words that only you put together are good.`;
  if (characters > PASSWORD_CHARACTERS_MAX)
    return `The password has ${characters} characters. Take at most ${PASSWORD_CHARACTERS_MAX}.`;
  const plain = password.toLowerCase();
  if (new Set(plain).size < 5) return 'The password repeats a few characters. Take one with more different ones.';
  const rest = [login, ...GUESSED_FIRST].reduce((left, word) => left.replaceAll(word, ''), plain);
  if ([...rest].length < PASSWORD_CHARACTERS_MIN / 2)
    return 'The password is made of what is guessed first: the login, the name of this program, a row of keys. Take another.';
  return null;
}

export function hashOfPassword(password: string): Promise<string> {
  return inTurn(() => hash(normal(password), COST));
}

/** @param passwordHash null where there is no such account: takes as long, and is false */
export function isPassword(password: string, passwordHash: string | null): Promise<boolean> {
  return inTurn(async () => {
    noHash ??= hash('nobody has this password', COST);
    const known = await verify(passwordHash ?? (await noHash), normal(password));
    return known && passwordHash !== null;
  });
}

export class TooManyWaiting extends Error {}

/** Easy to read out and to type; good once. */
export function newFirstPassword(): string {
  const group = (): string =>
    Array.from({ length: FIRST_PASSWORD_GROUP_LETTERS }, () => LETTERS[randomInt(LETTERS.length)]).join('');
  return Array.from({ length: FIRST_PASSWORD_GROUPS }, group).join('-');
}

async function inTurn<T>(work: () => Promise<T>): Promise<T> {
  if (waiting >= PASSWORD_CHECKS_WAITING_MAX) throw new TooManyWaiting();
  waiting += 1;
  try {
    return await turns.take(work);
  } finally {
    waiting -= 1;
  }
}

/** One password, however a keyboard composes its letters (NIST SP 800-63B, 5.1.1.2). */
function normal(password: string): string {
  return password.normalize('NFKC');
}
