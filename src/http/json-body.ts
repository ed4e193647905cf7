import type { FastifyInstance, FastifyRequest } from 'fastify';
import { jsonPointer } from '../domain/json-pointer.ts';
import { findUnstorable, type Unstorable } from './json-object.ts';
import { ProblemError } from './problem.ts';

const TYPES = ['application/json', 'application/merge-patch+json'];

/**
 * Reads JSON bodies with Fastify's own parser (which refuses `__proto__`), and three things more: merge patches are
 * JSON too; an operation that takes no body does not mind an empty one; and what the database could not give back as it
 * was sent is refused here, naming the place, rather than there as a failure of ours.
 */
export function installJsonBody(app: FastifyInstance): void {
  const parse = app.getDefaultJsonParser('error', 'error');
  app.removeContentTypeParser('application/json');
  app.addContentTypeParser(TYPES, { parseAs: 'string' }, (request, body, done) => {
    const text = String(body);
    if (text === '' && takesNoBody(request)) {
      done(null, undefined);
      return;
    }
    void parse(request, text, (error, value) => {
      const fault = error === null ? findUnstorable(value) : undefined;
      if (fault === undefined) done(error, value);
      else done(unstorable(fault));
    });
  });
}

function takesNoBody(request: FastifyRequest): boolean {
  const { operation } = request.routeOptions.config;
  return request.routeOptions.schema?.body === undefined || operation?.bodyOptional === true;
}

function unstorable({ path, message }: Unstorable): ProblemError {
  const pointer = jsonPointer(path);
  return new ProblemError('invalid-request', `In the body: ${pointer || '/'}: ${message}`, {
    errors: [{ pointer, code: 'not-storable', detail: message, in: 'body' }],
  });
}
