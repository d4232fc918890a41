/** Asks for a password on the terminal without showing it, or reads it from standard input: never from an argument, which all can see. */
import { createInterface } from 'node:readline/promises';
import { Writable, type Readable } from 'node:stream';

/** Longer than any password that is taken: what comes after it is not read. */
const TYPED_CHARACTERS_MAX = 1000;

export interface PasswordSource {
  input: Readable & { isTTY?: boolean };
  /** Where the question goes. */
  output: Writable;
}

/** The first line, without its end. Throws when there is none. */
export async function readPassword(
  { input, output }: PasswordSource = { input: process.stdin, output: process.stderr },
): Promise<string> {
  const password = input.isTTY ? await ask(input, output) : await firstLine(input);
  if (password !== '') return password;
  throw new Error('No password was given. Type it when it is asked for, or give it on standard input, as one line.');
}

async function firstLine(input: Readable): Promise<string> {
  input.setEncoding('utf8');
  let text = '';
  for await (const piece of input) {
    text += String(piece);
    if (text.includes('\n') || text.length > TYPED_CHARACTERS_MAX) break;
  }
  return text.split(/\r?\n/)[0] ?? '';
}

/** Empty after Ctrl-C or Ctrl-D. */
async function ask(input: Readable, output: Writable): Promise<string> {
  const silent = new Writable({ write: (_chunk, _encoding, done) => done() });
  const terminal = createInterface({ input, output: silent, terminal: true, historySize: 0 });
  const left = new AbortController();
  terminal.once('close', () => left.abort());
  // Only now: from here on the terminal hands over what is typed and shows nothing of it, Ctrl-C included.
  output.write('Password: ');
  try {
    return await terminal.question('', { signal: left.signal });
  } catch (error) {
    if (left.signal.aborted) return '';
    throw error;
  } finally {
    terminal.close();
    output.write('\n');
  }
}
