/** Errors whose message is meant for people: what is wrong and what to do about it. */

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

/** The message of anything that was thrown. */
export function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
