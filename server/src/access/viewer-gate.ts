/** Lets dashboards to the live feed, and closes those that may no longer see it. */
import type { IncomingMessage } from 'node:http';
import type { Access } from './access.ts';
import type { AuditLog } from './audit-log.ts';
import type { Caller } from './identity.ts';
import { comesFromOwnPage, isLoopbackHost } from './same-site.ts';
import type { SignInCookie } from './sign-in-cookie.ts';
import type { SignInService } from './sign-in-service.ts';

export interface ViewerGate {
  /** Rejects while the store does not answer. */
  admit(request: IncomingMessage, athleteId: string | null): Promise<Admission | 'other-origin' | 'not-signed-in'>;
}

export interface Admission {
  /** False when the viewer may not see the athlete, or no longer. Rejects while the store does not answer. */
  stillHolds(): Promise<boolean>;
}

export interface ViewerGateDependencies {
  access: Access;
  audit: AuditLog;
  signIns: SignInService | null;
  cookie: SignInCookie;
  publicUrl: string | null;
  parseCookie(header: string): Record<string, string | undefined>;
}

export function viewerGate({
  access,
  audit,
  signIns,
  cookie,
  publicUrl,
  parseCookie,
}: ViewerGateDependencies): ViewerGate {
  /** Changes nothing of the sign-in: an upgrade can set no cookie. */
  const recognise = async (request: IncomingMessage): Promise<Caller | null> => {
    if (signIns === null) return isLoopbackHost(request.headers) ? 'open' : null;
    const token = parseCookie(request.headers.cookie ?? '')[cookie.name];
    return (await signIns.recognise(token, { rotates: false }))?.identity ?? null;
  };
  return {
    admit: async (request, athleteId) => {
      if (!comesFromOwnPage(request.headers, signIns === null, publicUrl)) return 'other-origin';
      const caller = await recognise(request);
      if (caller === null) return 'not-signed-in';
      if (caller !== 'open' && (caller.passwordIsFirst || caller.secondFactorIsDue)) return 'not-signed-in';
      if (athleteId === null) return { stillHolds: async () => false };
      const maySee = async (who: Caller): Promise<boolean> => (await access.rightsOn(who, athleteId)).has('see');
      const sees = await maySee(caller);
      await audit.note({ caller, action: 'GET /live', athleteId, isRead: true, refusedStatus: sees ? null : 404 });
      return {
        stillHolds: async () => {
          if (caller === 'open' || signIns === null) return maySee(caller);
          const now = await signIns.stillSignedIn(caller);
          return now !== null && maySee(now);
        },
      };
    },
  };
}
