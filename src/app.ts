import Fastify, { type FastifyBaseLogger, type FastifyError, type FastifyInstance, LogController } from 'fastify';
import { serializerCompiler } from 'fastify-type-provider-zod';
import { randomUUID } from 'node:crypto';
import type { Socket } from 'node:net';
import type { Bindings, ChildLoggerOptions } from 'pino';
import type { Deps } from './deps.ts';
import { registerFeatures } from './features/register.ts';
import { installAuth, installShedding, limitStops } from './http/access/guards.ts';
import { installRateLimit } from './http/access/shared-limits.ts';
import { installJsonBody } from './http/body/json-body.ts';
import {
  installCompression,
  installCors,
  installRateLimitHeaders,
  installSecurityHeaders,
} from './http/frame/headers.ts';
import { compileValidator } from './http/frame/compile-validator.ts';
import { installQueryLimit, parseQuery } from './http/frame/cursor.ts';
import { answerBrokenRequest, installErrorHandler, installNotFound, sendProblem } from './http/frame/error-handler.ts';
import { installTrace } from './http/frame/trace.ts';
import { installKeys } from './http/frame/keyed.ts';
import { ProblemError } from './http/frame/problem.ts';
import { installOpenApi } from './http/openapi/openapi.ts';
import type { Logger } from './platform/logger.ts';

export const API_VERSION = '0.2.0';

/** Longer than Node.js reads an address, so that an overlong part reaches access and validation, in this order. */
const MAX_PARAM_LENGTH = 20_000;

const TOKEN_TEXT = /gw_[\w-]+/g;

/**
 * The HTTP application: plugins, error handling, all routes. It never listens and never touches the queue.
 *
 * @param register its routes; all of the product unless told
 */
export async function buildApp(deps: Deps, register = registerFeatures): Promise<FastifyInstance> {
  const app = Fastify({
    loggerInstance: withoutListening(deps.log),
    // One line per request, when it is answered: see logAnswers.
    logController: new LogController({ disableRequestLogging: true, requestIdLogLabel: 'requestId' }),
    genReqId: requestIdOf,
    childLoggerFactory: whenNeeded,
    bodyLimit: deps.config.bodyLimitKb * 1024,
    routerOptions: { maxParamLength: MAX_PARAM_LENGTH, querystringParser: parseQuery },
    requestTimeout: 30_000,
    return503OnClosing: false,
    forceCloseConnections: 'idle',
    trustProxy: deps.config.trustProxy.length === 0 ? false : deps.config.trustProxy,
    frameworkErrors: (error: FastifyError, request, reply) => {
      const slug = error.code === 'FST_ERR_BAD_URL' ? 'malformed-url' : 'invalid-request';
      sendProblem(reply, request, new ProblemError(slug, 'The address cannot be read: check its percent escapes.'));
    },
    clientErrorHandler: answerBrokenRequest,
    // Node.js would answer a request without a host with no body at all; the hook below says what is wrong.
    http: { requireHostHeader: false },
  }) as unknown as FastifyInstance;
  app.setValidatorCompiler(compileValidator);
  app.setSerializerCompiler(serializerCompiler);
  app.decorate('publicUrl', deps.config.publicUrl);
  app.decorateRequest('tokenHash', undefined);
  app.addHook('onRequest', (request, reply, done) => {
    reply.header('x-request-id', request.id);
    if (request.headers.host === undefined && request.raw.httpVersion === '1.1') {
      done(new ProblemError('invalid-request', 'Send a Host header (RFC 9112, section 3.2).'));
    } else done();
  });
  installTrace(app, deps.tracer);
  // Half the time that a stop may take is for requests under way, the other half for jobs and the database.
  closeConnectionsAtStop(app, { graceMs: deps.config.shutdownSeconds * 500 });
  if (deps.config.logRequests !== false) logAnswers(app, deps.log);
  installErrorHandler(app);
  installJsonBody(app, deps.threads);
  installSecurityHeaders(app);
  await installCors(app, deps.config.corsOrigins);
  await installCompression(app);
  await installShedding(app, deps);
  limitStops(app, deps.config.rateLimitPerMinute);
  await installRateLimit(app, deps);
  installRateLimitHeaders(app);
  installKeys(app, deps.db.pool);
  await installOpenApi(app, API_VERSION);
  installAuth(app, deps);
  installQueryLimit(app);
  installNotFound(app);
  await register(app, deps);
  return app;
}

const REQUEST_ID = /^[0-9A-Za-z_-]{16,64}$/;

/** The id that a caller or a proxy gave a request where it can be one, so that both logs tell of it under one name. */
function requestIdOf({ headers }: { headers: Record<string, string | string[] | undefined> }): string {
  const given = headers['x-request-id'];
  return typeof given === 'string' && REQUEST_ID.test(given) ? given : randomUUID();
}

// Fastify says at `info` where it listens, which the start says with more; everything else of ours goes past it.
function withoutListening(log: Logger): Logger {
  return log.level === 'info' ? log.child({}, { level: 'warn' }) : log;
}

/** What a logger must have to be one of a request. */
const SAYS = ['fatal', 'error', 'warn', 'info', 'debug', 'trace', 'silent', 'child'] as const;
type Says = Record<(typeof SAYS)[number], (...said: never[]) => unknown>;
type Waiting = Says & { make(): Says; made?: Says };

const WAITING = Object.fromEntries(
  SAYS.map((name) => [
    name,
    function say(this: Waiting, ...said: never[]): unknown {
      this.made ??= this.make();
      return this.made[name](...said);
    },
  ]),
);

/** The logger of a request, made when something is said about it: of most nothing is, and it costs as much as their line. */
function whenNeeded(log: FastifyBaseLogger, bindings: Bindings, options: ChildLoggerOptions): FastifyBaseLogger {
  const waiting = Object.create(WAITING) as Waiting;
  waiting.make = () => log.child(bindings, options);
  return waiting as unknown as FastifyBaseLogger;
}

function logAnswers(app: FastifyInstance, log: Logger): void {
  // Nothing in this line can be a secret, and looking for one at every request is what the line would cost most.
  const plain = log.child({}, { redact: [] });
  app.addHook('onResponse', (request, reply, done) => {
    const { statusCode, elapsedTime } = reply;
    // Without the query: somebody may send a token there, or a name.
    const path = request.url.split('?', 1)[0]?.replace(TOKEN_TEXT, 'gw_[redacted]');
    const ms = Math.round(elapsedTime * 10) / 10;
    const said = {
      requestId: request.id,
      method: request.method,
      path,
      statusCode,
      ms,
      tokenId: request.actor?.tokenId,
      traceId: request.trace?.split('-')[1],
    };
    plain.info(said, 'request answered');
    done();
  });
}

/**
 * Lets go of connections when the server stops. Node.js waits for each one that has not sent a whole request yet, such as
 * those that browsers open in advance, and it stops timing them out. So: where nothing is being answered, the
 * connection ends at once; where something is, it ends with the answer, or when the time is up.
 *
 * @param options `graceMs` how long answers and half-sent requests may take
 */
function closeConnectionsAtStop(app: FastifyInstance, { graceMs }: { graceMs: number }): void {
  const open = new Set<Socket>();
  const answering = new Set<Socket>();
  let stopping = false;
  app.server.on('connection', (socket: Socket) => {
    open.add(socket);
    socket.once('close', () => {
      open.delete(socket);
      answering.delete(socket);
    });
  });
  app.server.on('request', ({ socket }, response) => {
    answering.add(socket);
    response.once('close', () => {
      answering.delete(socket);
      if (stopping) socket.destroySoon();
    });
  });
  app.addHook('preClose', async () => {
    stopping = true;
    for (const socket of open) if (!answering.has(socket)) socket.destroy();
    const timer = setTimeout(() => app.server.closeAllConnections(), graceMs);
    app.server.once('close', () => clearTimeout(timer));
  });
}
