/** Every failed request answers {error: {code, message}}, and the message says what to do. */
import type { FastifyError, FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { ApiError } from '@ambipede/shared';
import { ApiProblem, loggable } from '../errors.ts';
import { AnalysisFailure } from '../session/analysis-thread.ts';
import { IN_WORDS } from './schemas.ts';

export function installErrorHandler(app: FastifyInstance): void {
  app.setErrorHandler(
    (error: FastifyError | ApiProblem | AnalysisFailure, request: FastifyRequest, reply: FastifyReply) => {
      const { status, code, message } = answerTo(error);
      if (status >= 500) request.log.error({ err: loggable(error) }, 'request failed');
      return reply.code(status).send({ error: { code, message } } satisfies ApiError);
    },
  );
}

function answerTo(error: FastifyError | ApiProblem | AnalysisFailure): {
  status: number;
  code: string;
  message: string;
} {
  if (error instanceof ApiProblem) return error;
  if (error instanceof AnalysisFailure) return { status: 409, code: 'no-result', message: error.message };
  if (error.validation) return { status: 400, code: 'invalid-request', message: describeValidation(error) };
  const status = error.statusCode ?? 500;
  if (status < 500)
    return { status, code: 'bad-request', message: `${error.message}. Send JSON as described in shared/src/api.ts.` };
  return {
    status: 500,
    code: 'internal',
    message: 'The server could not do this, and has logged why. Try again; if it stays so, look at the log.',
  };
}

function describeValidation(error: FastifyError): string {
  const where = { body: 'body', params: 'path', querystring: 'query', headers: 'headers' }[
    error.validationContext ?? 'body'
  ];
  const faults = (error.validation ?? []).flatMap((fault) => {
    const field = fault.instancePath.replace(/^\//, '').replaceAll('/', '.');
    const text = describeFault(fault.keyword, fault.params, fault.message);
    return text ? [field ? `${field} ${text}` : text] : [];
  });
  return `The ${where ?? 'request'} is not as it should be: ${faults.join('; ')}. Correct it and send it again.`;
}

function describeFault(keyword: string, params: Record<string, unknown>, message = ''): string | null {
  // Says once more what additionalProperties says.
  if (keyword === 'boolean') return null;
  if (keyword === 'enum') return `must be one of ${(params['allowedValues'] as string[]).join(', ')}`;
  if (keyword === 'pattern') return IN_WORDS.get(String(params['pattern'])) ?? message;
  if (keyword === 'additionalProperties')
    return `must not have ${(params['additionalProperties'] as string[]).join(', ')}`;
  if (keyword === 'required') return `must have ${(params['requiredProperties'] as string[]).join(', ')}`;
  return message;
}
