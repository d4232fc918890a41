/** What a device does after the server turned it away (SPEC.md, section 5.1). */
import type { ProtocolErrorName } from '../src/errors.ts';

export interface AfterClose {
  /** Trying again soon cannot change the answer. */
  longPause?: true;
  /** The stream cannot go on: another boot id, at once or when it happens twice in a row. */
  newBoot?: 'at once' | 'second time';
  /** Catch up at half the speed. */
  slower?: true;
}

const RULES: Partial<Record<ProtocolErrorName, AfterClose>> = {
  'unsupported-version': { longPause: true },
  'bad-device-id': { longPause: true },
  replaced: { longPause: true },
  'not-enrolled': { longPause: true },
  'hello-changed': { newBoot: 'at once' },
  'clock-unsteady': { newBoot: 'at once' },
  'tick-implausible': { newBoot: 'second time' },
  'too-fast': { slower: true },
};

/** `name` is null for a close without an error of the catalogue. */
export function afterClose(name: ProtocolErrorName | null): AfterClose {
  return (name && RULES[name]) ?? {};
}
