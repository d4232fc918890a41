/** Asks the log where a stream ends, without letting a log that is away keep a device waiting. */
import type { HelloMessage } from '@ambipede/firmware-protocol';
import { LOG_ANSWER_WAIT_MS } from './limits.ts';
import type { RawLog, StreamEnd } from './raw-log.ts';

/** Undefined when the log does not answer: live goes on, and the queue asks again before it appends. */
export async function askStreamEnd(
  log: RawLog,
  { deviceId, bootId }: HelloMessage,
  onProblem: (text: string, deviceId: string) => void,
): Promise<StreamEnd | null | undefined> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<undefined>((resolve) => {
    timer = setTimeout(() => resolve(undefined), LOG_ANSWER_WAIT_MS);
  });
  try {
    return await Promise.race([log.streamEnd(deviceId, bootId), late]);
  } catch (error) {
    onProblem(`The raw log does not say where the stream ends: ${String(error)}`, deviceId);
    return undefined;
  } finally {
    clearTimeout(timer);
  }
}
