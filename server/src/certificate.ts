/** The server's own certificate. */
import { readFileSync } from 'node:fs';
import { createSecureContext } from 'node:tls';
import type { Config } from './config.ts';
import { SetupError, messageOf } from './errors.ts';

/** Null when none is set. Throws SetupError when it cannot be used. */
export function readCertificate({ tls }: Pick<Config, 'tls'>): { cert: Buffer; key: Buffer } | null {
  if (tls === null) return null;
  try {
    const pair = { cert: readFileSync(tls.certFile), key: readFileSync(tls.keyFile) };
    createSecureContext(pair);
    return pair;
  } catch (error) {
    throw new SetupError(
      `The certificate cannot be used (${messageOf(error)}). TLS_CERT has to name the file of the certificate with those that signed it, TLS_KEY that of its key, both in PEM and readable by the user of this server.`,
    );
  }
}
