/** The cookie that a browser keeps while somebody is signed in: no script reads it, no other site sends it. */
import type { FastifyReply } from 'fastify';

export interface SignInCookie {
  name: string;
  set(reply: FastifyReply, token: string): void;
  clear(reply: FastifyReply): void;
}

/** @param secure the pages come over TLS. The prefix then holds the cookie to this host and path (RFC 6265bis, 4.1.3.2) */
export function signInCookie(secure: boolean): SignInCookie {
  const name = secure ? '__Host-ambipede' : 'ambipede';
  const options = { path: '/', httpOnly: true, sameSite: 'strict', secure } as const;
  return {
    name,
    // Without an age it ends with the browser.
    set: (reply, token) => void reply.setCookie(name, token, options),
    clear: (reply) => void reply.clearCookie(name, options),
  };
}
