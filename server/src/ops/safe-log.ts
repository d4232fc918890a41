/** The log tells what happened to whom only by ids. */
import type { FastifyBaseLogger } from 'fastify';
import postgres from 'postgres';

/** PostgreSQL's class of SQLSTATE for values that a type does not take: its message repeats the value. */
const DATA_EXCEPTION = /^22/;

/** The same log, with errors written without what PostgreSQL says of rows: that may be names. */
export function withoutPersonalData(logger: FastifyBaseLogger): FastifyBaseLogger {
  return logger.child({}, { serializers: { err: describeError } });
}

/** What is logged of an error: kind, message and where it came from, without the values of a row or of a query. */
export function describeError(error: unknown): Record<string, unknown> {
  if (!(error instanceof Error)) return { message: typeof error };
  const { name, message, stack = '' } = error;
  const frames = stack.split('\n').filter((line) => /^\s+at /.test(line));
  if (!(error instanceof postgres.PostgresError)) {
    return { type: name, message, code: (error as NodeJS.ErrnoException).code, stack: frames.join('\n') };
  }
  const { code, table_name: table, column_name: column, constraint_name: constraint, routine } = error;
  const told = DATA_EXCEPTION.test(code) ? 'a value that PostgreSQL does not take' : message;
  return { type: name, message: told, code, table, column, constraint, routine, stack: frames.join('\n') };
}
