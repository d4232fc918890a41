/** Whether a request comes from a page of this server: another site must not act in the name of whoever is signed in. */
import type { IncomingHttpHeaders } from 'node:http';

/** Names under which only this machine is reached: a foreign name that was made to point here is none of them. */
const LOOPBACK_HOST = /^(localhost|127\.0\.0\.1|\[::1\])(:\d+)?$/;

/** @param publicUrl the address that people use, where a proxy stands in front; null: the Host of the request */
function isOwnOrigin({ origin, host }: IncomingHttpHeaders, publicUrl: string | null): boolean {
  if (origin === undefined || !URL.canParse(origin)) return false;
  if (publicUrl !== null) return origin === new URL(publicUrl).origin;
  return host !== undefined && new URL(origin).host === host.toLowerCase();
}

/**
 * A browser says where a request comes from whenever it changes something or opens a socket. One that does not say is a program; it has
 * no cookie by accident, yet is asked to say it too, but for the demonstration and where no cookie counts.
 */
export function comesFromOwnPage(
  headers: IncomingHttpHeaders,
  mayBeUnsaid: boolean,
  publicUrl: string | null,
): boolean {
  return headers.origin === undefined ? mayBeUnsaid : isOwnOrigin(headers, publicUrl);
}

export function isLoopbackHost({ host }: IncomingHttpHeaders): boolean {
  return host !== undefined && LOOPBACK_HOST.test(host.toLowerCase());
}
