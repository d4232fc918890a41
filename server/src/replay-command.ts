/** npm run replay -- RECORDING [--url ws://127.0.0.1:8080] [--login NAME [--code 123456]] [--athlete Replay] [--task walk] */
import { parseArgs } from 'node:util';
import { readRecording } from './exchange/motion-bids-reader.ts';
import { readPassword } from './read-password.ts';
import type { ReplayLogin } from './replay-api.ts';
import { replayRecording } from './replay.ts';

const USAGE = `Streams a Motion-BIDS recording folder to a running server as if it happened now.

  npm run replay -- RECORDING [--url ws://127.0.0.1:8080] [--login NAME [--code 123456]] [--athlete Replay] [--task TASK]

With --login the password is asked for, or read from standard input when that is no terminal; --code is the one-time code of an account
with a second factor. The athlete has to have consented to recording.

A recording is replayed in real time: the server puts its own clock on what it receives.`;

const LOOPBACK = /^(localhost|127\.0\.0\.1|\[::1\])$/;

async function askLogin(login: string, code: string | undefined, url: string): Promise<ReplayLogin> {
  const { protocol, hostname } = URL.canParse(url) ? new URL(url) : { protocol: 'ws:', hostname: url };
  if (/^(ws|http):$/.test(protocol) && !LOOPBACK.test(hostname))
    console.error(
      `The password goes to ${hostname} without encryption. Give a --url with wss:// where the server has one.`,
    );
  return { login, password: await readPassword(), ...(code !== undefined && { code }) };
}

try {
  const { positionals, values } = parseArgs({
    allowPositionals: true,
    options: {
      url: { type: 'string', default: 'ws://127.0.0.1:8080' },
      login: { type: 'string' },
      code: { type: 'string' },
      athlete: { type: 'string', default: 'Replay' },
      task: { type: 'string' },
      help: { type: 'boolean', short: 'h' },
    },
  });
  const [folder] = positionals;
  if (values.help || !folder || positionals.length > 1) {
    console.log(USAGE);
    process.exitCode = values.help ? 0 : 2;
  } else {
    await replayRecording(await readRecording(folder), {
      url: values.url,
      athlete: values.athlete,
      ...(values.login !== undefined && { login: await askLogin(values.login, values.code, values.url) }),
      ...(values.task === undefined ? {} : { task: values.task }),
      log: (line) => console.log(line),
    });
  }
} catch (error) {
  console.error(error instanceof Error ? error.message : String(error));
  process.exitCode = 1;
}
