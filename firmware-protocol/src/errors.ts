/** The error catalogue. An error that ends the connection closes it with code 4000 + its own code. SPEC.md lists the same. */

export interface ProtocolErrorInfo {
  code: number;
  /** Whether the connection goes on after the error frame. */
  connection: 'kept' | 'closed';
}

export const PROTOCOL_ERRORS = {
  // About the bytes of one frame.
  'too-short': { code: 1, connection: 'closed' },
  'bad-magic': { code: 2, connection: 'closed' },
  'unsupported-version': { code: 3, connection: 'closed' },
  'unknown-type': { code: 4, connection: 'kept' },
  'wrong-length': { code: 5, connection: 'closed' },
  'out-of-range': { code: 6, connection: 'closed' },
  'bad-device-id': { code: 7, connection: 'closed' },
  'bad-text': { code: 8, connection: 'closed' },
  'crc-mismatch': { code: 9, connection: 'closed' },
  'too-long': { code: 10, connection: 'closed' },
  'not-binary': { code: 11, connection: 'closed' },
  // About the order of frames.
  'wrong-direction': { code: 20, connection: 'closed' },
  'hello-expected': { code: 21, connection: 'closed' },
  'hello-repeated': { code: 22, connection: 'closed' },
  'hello-late': { code: 23, connection: 'closed' },
  'welcome-pending': { code: 24, connection: 'closed' },
  'wrong-boot': { code: 25, connection: 'closed' },
  'unknown-exchange': { code: 26, connection: 'kept' },
  'samples-late': { code: 27, connection: 'kept' },
  'tick-implausible': { code: 28, connection: 'closed' },
  'hello-changed': { code: 29, connection: 'closed' },
  'wrong-channels': { code: 30, connection: 'closed' },
  // About the connection as a whole.
  replaced: { code: 40, connection: 'closed' },
  'not-enrolled': { code: 41, connection: 'closed' },
  'time-missing': { code: 42, connection: 'closed' },
  'clock-unsteady': { code: 43, connection: 'closed' },
  'too-fast': { code: 44, connection: 'closed' },
  'too-slow': { code: 45, connection: 'closed' },
  'too-many-errors': { code: 46, connection: 'closed' },
  'resend-needed': { code: 47, connection: 'closed' },
  'server-full': { code: 48, connection: 'closed' },
  silent: { code: 49, connection: 'closed' },
} as const satisfies Record<string, ProtocolErrorInfo>;

export type ProtocolErrorName = keyof typeof PROTOCOL_ERRORS;

/** WebSocket close codes 4000-4999 are for private use (RFC 6455, 7.4.2). */
export const CLOSE_CODE_BASE = 4000;

export interface ProtocolError {
  name: ProtocolErrorName;
  /** What was wrong with which value, for a person. */
  text: string;
}

export function closeCodeOf(name: ProtocolErrorName): number {
  return CLOSE_CODE_BASE + PROTOCOL_ERRORS[name].code;
}

/** The name of an error code or close code; null when it is not in the catalogue. */
export function errorNameOf(code: number): ProtocolErrorName | null {
  const bare = code >= CLOSE_CODE_BASE ? code - CLOSE_CODE_BASE : code;
  for (const [name, info] of Object.entries(PROTOCOL_ERRORS)) {
    if (info.code === bare) return name as ProtocolErrorName;
  }
  return null;
}
