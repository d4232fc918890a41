/** Errors whose message is meant for people: what is wrong and what to do about it. */
import { DrizzleQueryError } from 'drizzle-orm/errors';

/** The operator has to change something before the server can run. `main.ts` prints the message without a stack. */
export class SetupError extends Error {
  override name = 'SetupError';
}

/** An answer to an API request other than success. `code` is stable, `message` says what to do. */
export class ApiProblem extends Error {
  override name = 'ApiProblem';
  readonly status: number;
  readonly code: string;

  constructor(status: number, code: string, message: string) {
    super(message);
    this.status = status;
    this.code = code;
  }
}

export function notFound(what: string, listPath: string): ApiProblem {
  return new ApiProblem(404, 'not-found', `There is no such ${what}. See ${listPath} for those that exist.`);
}

export function conflict(code: string, message: string): ApiProblem {
  return new ApiProblem(409, code, message);
}

/**
 * What is safe to log of anything that was thrown. The error that Drizzle wraps around a failed query repeats the query's
 * values, which may be names; its cause, PostgreSQL's own error, does not.
 */
export function loggable(error: unknown): unknown {
  return error instanceof DrizzleQueryError && error.cause ? error.cause : error;
}

/** The message of anything that was thrown, without the values of a query. */
export function messageOf(error: unknown): string {
  const safe = loggable(error);
  return safe instanceof Error ? safe.message : String(safe);
}
