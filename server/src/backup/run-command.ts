/** What both commands do with a result, a mistake of whoever typed, a problem and a signal. */
import { SetupError, messageOf } from '../errors.ts';
import { onStopSignal } from '../stop-signals.ts';

export class UsageError extends Error {
  override name = 'UsageError';
}

/** Exit code 0 with the text that `work` returns, 1 with what is wrong, 2 with the usage. */
export async function runCommand(usage: string, work: (signal: AbortSignal) => Promise<string>): Promise<void> {
  const stopped = new AbortController();
  onStopSignal((signal) => stopped.abort(new SetupError(`Stopped by ${signal}. Nothing was written.`)));
  try {
    console.log(await work(stopped.signal));
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    const mistyped = error instanceof UsageError || code?.startsWith('ERR_PARSE_ARGS') === true;
    console.error(mistyped ? usage : messageOf(stopped.signal.aborted ? stopped.signal.reason : error));
    process.exitCode = mistyped ? 2 : 1;
  }
}
