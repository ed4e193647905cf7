import type { FastifyInstance, FastifyRequest } from 'fastify';
import { sendProblem } from './error-handler.ts';
import { ProblemError } from './problem.ts';

interface KnownPath {
  pattern: RegExp;
  methods: Set<string>;
}

/** Answers unknown addresses with 404, and known addresses asked with another method with 405 and `Allow`. */
export function installNotFound(app: FastifyInstance): void {
  const paths = new Map<string, KnownPath>();
  app.addHook('onRoute', (route) => {
    const known = paths.get(route.url) ?? { pattern: patternOf(route.url), methods: new Set<string>() };
    for (const method of [route.method].flat()) known.methods.add(method);
    paths.set(route.url, known);
  });
  // The limiter installs itself on routes only.
  app.setNotFoundHandler({ preHandler: app.rateLimit() }, (request, reply) => {
    const allowed = allowedMethods(paths, request);
    // A wildcard route may know the address and still have nothing there.
    if (allowed.length === 0 || allowed.includes(request.method)) {
      return sendProblem(reply, request, new ProblemError('not-found', 'No operation has this address.'));
    }
    const allow = allowed.join(', ');
    const detail = `${request.method} is not possible here; these methods are: ${allow}.`;
    return sendProblem(reply, request, new ProblemError('method-not-allowed', detail, {}, { allow }));
  });
}

function allowedMethods(paths: ReadonlyMap<string, KnownPath>, request: FastifyRequest): string[] {
  const path = request.url.split('?', 1)[0] ?? '';
  const methods = new Set<string>();
  for (const known of paths.values()) {
    if (known.pattern.test(path)) for (const method of known.methods) methods.add(method);
  }
  return [...methods].sort();
}

function patternOf(url: string): RegExp {
  const escaped = url.replace(/[.*+?^${}()|[\]\\]/g, (char) => (char === '*' ? '.*' : `\\${char}`));
  return new RegExp(`^${escaped.replace(/:[A-Za-z]+/g, '[^/]+')}/?$`);
}
