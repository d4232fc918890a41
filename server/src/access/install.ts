/** Puts the one mechanism of access in front of a server that has no routes yet. */
import type { FastifyInstance } from 'fastify';
import type { Db } from '../store/database.ts';
import { Access } from './access.ts';
import { AuditLog } from './audit-log.ts';
import { installGuard } from './guard.ts';
import { installHeaders } from './headers.ts';
import { installRateLimit } from './rate-limit.ts';
import { signInCookie, type SignInCookie } from './sign-in-cookie.ts';
import { SignInService } from './sign-in-service.ts';
import { viewerGate, type ViewerGate } from './viewer-gate.ts';

/** `open`: a demonstration on this machine, without accounts. */
export type AccessOptions =
  | { kind: 'open' }
  | {
      kind: 'accounts';
      /** The address that people use, where a proxy stands in front. */
      publicUrl: string | null;
      /** Others reach the server: keepers need a second factor. */
      keepersNeedSecondFactor: boolean;
      /** A password that was given first has been changed. */
      onPasswordChanged(): Promise<void>;
    };

export interface InstalledAccess {
  access: Access;
  audit: AuditLog;
  /** Null: the demonstration, which has no accounts. */
  signIns: SignInService | null;
  cookie: SignInCookie;
  viewerGate: ViewerGate;
  onPasswordChanged: () => Promise<void>;
}

export async function installAccess(
  app: FastifyInstance,
  options: AccessOptions,
  { db, nowUtcMs, encrypted }: { db: Db; nowUtcMs: () => number; encrypted: boolean },
): Promise<InstalledAccess> {
  const publicUrl = options.kind === 'accounts' ? options.publicUrl : null;
  const secure = encrypted || publicUrl?.startsWith('https:') === true;
  const access = new Access(db);
  const audit = new AuditLog(db, nowUtcMs);
  const signIns =
    options.kind === 'open'
      ? null
      : new SignInService(db, nowUtcMs, { keepersNeedOne: options.keepersNeedSecondFactor });
  const cookie = signInCookie(secure);
  await installHeaders(app, secure);
  await installRateLimit(app);
  await installGuard(app, { access, audit, signIns, cookie, publicUrl });
  const parseCookie = (header: string): Record<string, string | undefined> => app.parseCookie(header);
  return {
    ...{ access, audit, signIns, cookie },
    viewerGate: viewerGate({ access, audit, signIns, cookie, publicUrl, parseCookie }),
    onPasswordChanged: async () => {
      if (options.kind === 'accounts') await options.onPasswordChanged();
    },
  };
}
