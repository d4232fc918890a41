/** Asks for a password on the terminal without showing it, or reads it from standard input: never from an argument, which all can see. */
import { createInterface } from 'node:readline/promises';
import { Writable } from 'node:stream';

/** The first line; without its end. */
export async function readPassword(): Promise<string> {
  const { stdin } = process;
  if (!stdin.isTTY) {
    let text = '';
    for await (const piece of stdin) text += String(piece);
    return text.split(/\r?\n/)[0] ?? '';
  }
  process.stderr.write('Password: ');
  const silent = new Writable({ write: (_chunk, _encoding, done) => done() });
  const terminal = createInterface({ input: stdin, output: silent, terminal: true });
  try {
    return await terminal.question('');
  } finally {
    terminal.close();
    process.stderr.write('\n');
  }
}
