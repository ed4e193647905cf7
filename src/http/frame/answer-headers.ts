import compress from '@fastify/compress';
import cors from '@fastify/cors';
import type { FastifyInstance } from 'fastify';
import helmet, { type HelmetOptions } from 'helmet';
import { constants } from 'node:zlib';

/** Nothing that this server answers may load, run, submit or be framed, unless the answer says otherwise itself. */
const NOTHING = { defaultSrc: ["'none'"], baseUri: ["'none'"], formAction: ["'none'"], frameAncestors: ["'none'"] };

/** The headers of every answer. TLS ends at a proxy in front of this server, which may promise it (HSTS); we cannot. */
const HELMET: HelmetOptions = {
  contentSecurityPolicy: { useDefaults: false, directives: NOTHING },
  xFrameOptions: { action: 'deny' },
  referrerPolicy: { policy: 'no-referrer' },
  hsts: false,
  // About programs that nobody has any more, on every file that a telephone fetches over a slow network.
  xDnsPrefetchControl: false,
  xDownloadOptions: false,
  xPermittedCrossDomainPolicies: false,
  xXssProtection: false,
};

/** What the library says to these options, asked once: they are the same for every request. */
const EVERYWHERE = headersOf(HELMET);

function headersOf(options: HelmetOptions): Readonly<Record<string, string>> {
  const said: Record<string, string> = {};
  const answer = {
    setHeader: (name: string, value: unknown) => (said[name.toLowerCase()] = String(value)),
    removeHeader() {},
  };
  // It reads nothing of a request with these options, and of an answer only what stands here.
  helmet(options)({} as never, answer as never, () => undefined);
  return said;
}

/** Gives every answer the headers that keep a browser from doing with it what was not meant; a route may say otherwise. */
export function installSecurityHeaders(app: FastifyInstance): void {
  app.addHook('onRequest', (_request, reply, done) => {
    reply.headers(EVERYWHERE);
    done();
  });
}

const FIRST = ['content-security-policy', 'x-content-type-options', 'x-frame-options', 'referrer-policy'];

/** The most important of them, for answers that are given before there is a request that hooks could run for. */
export const SECURITY_HEADERS: Readonly<Record<string, string>> = Object.fromEntries(
  Object.entries(EVERYWHERE).filter(([name]) => FIRST.includes(name)),
);

const WINDOW_SECONDS = 60;
const FILES = '/assets/';
const OLDER = ['x-ratelimit-limit', 'x-ratelimit-remaining', 'x-ratelimit-reset'];

/**
 * Says the limit of requests in the words of the draft standard too (draft-ietf-httpapi-ratelimit-headers, structured fields
 * `RateLimit-Policy` and `RateLimit`), beside the `X-RateLimit-…` headers that came before it: `q` requests in `w` seconds, `r` left,
 * `t` seconds until they are counted anew.
 */
export function installRateLimitHeaders(app: FastifyInstance): void {
  app.addHook('onSend', (request, reply, payload, done) => {
    // Files of the pages are kept for good and fetched by no program: on a slow network their headers would weigh as much as they do.
    if (request.url.startsWith(FILES)) for (const name of OLDER) reply.removeHeader(name);
    const limit = reply.getHeader('x-ratelimit-limit');
    if (limit !== undefined) {
      const [left, reset] = [reply.getHeader('x-ratelimit-remaining'), reply.getHeader('x-ratelimit-reset')];
      reply.header('ratelimit-policy', `"caller";q=${String(limit)};w=${WINDOW_SECONDS}`);
      reply.header('ratelimit', `"caller";r=${String(left)};t=${String(reset)}`);
    }
    done(null, payload);
  });
}

/** An answer of less is not smaller in fewer packets. */
const LEAST_BYTES = 1024;

/** Up to here it is done at once, in less time than handing it to a thread takes; what is larger goes to one. */
const AT_ONCE_BYTES = 16 * 1024;

/** Text, but no stream of messages: what compresses would keep back what is new. */
const TEXT = /^(?:text\/(?!event-stream)|application\/(?:[\w.+-]+\+)?(?:json|xml|yaml)\b|image\/svg)/u;

/**
 * Compresses text for those who take it, with `Vary`. A route whose answer carries a secret says so (`secret`) and is left
 * alone: the length of secret and somebody's text compressed together tells of the secret.
 */
export async function installCompression(app: FastifyInstance): Promise<void> {
  await app.register(compress, {
    globalDecompression: false,
    encodings: ['br', 'gzip'],
    threshold: LEAST_BYTES,
    syncThreshold: AT_ONCE_BYTES,
    customTypes: TEXT,
    brotliOptions: {
      params: { [constants.BROTLI_PARAM_QUALITY]: 5, [constants.BROTLI_PARAM_MODE]: constants.BROTLI_MODE_TEXT },
    },
  });
}

/** When an operation was declared out of use, when it ends, and what to call instead. Plain dates, UTC. */
export interface Deprecated {
  since: string;
  /** absent: the end is not set yet */
  sunset?: string;
  /** address that says what to do instead */
  instead: string;
}

/**
 * The headers that say so with every answer: `Deprecation` (RFC 9745, a date of RFC 9651), `Sunset` (RFC 8594, an HTTP date) and a
 * link of the relation `deprecation`.
 */
export function deprecationHeaders({ since, sunset, instead }: Deprecated): Record<string, string> {
  const at = (day: string) => new Date(`${day}T00:00:00Z`);
  return {
    deprecation: `@${at(since).getTime() / 1000}`,
    ...(sunset === undefined ? {} : { sunset: at(sunset).toUTCString() }),
    link: `<${instead}>; rel="deprecation"; type="text/html"`,
  };
}

/** What pages of other origins may send beyond what browsers allow anyway. */
const ASKED = [
  'Authorization',
  'Content-Type',
  'Idempotency-Key',
  'If-Match',
  'If-None-Match',
  'Last-Event-ID',
  'Traceparent',
  'X-Request-Id',
];
/** What they may read of an answer. */
const TOLD = [
  'Deprecation',
  'ETag',
  'Idempotency-Replayed',
  'Link',
  'Location',
  'RateLimit',
  'RateLimit-Policy',
  'Retry-After',
  'Sunset',
  'WWW-Authenticate',
  'X-Request-Id',
];
const ANSWER_KEPT_SECONDS = 600;

/**
 * Lets pages of the named origins call the API from a browser, and none where none are named. There are no cookies, so that a
 * browser sends nothing by itself that would let a page act for somebody. Call it before routes must say who may call them:
 * what a browser asks beforehand, everybody may ask.
 */
export async function installCors(app: FastifyInstance, origins: readonly string[]): Promise<void> {
  if (origins.length === 0) return;
  await app.register(cors, {
    origin: [...origins],
    methods: ['GET', 'HEAD', 'POST', 'PUT', 'PATCH', 'DELETE'],
    allowedHeaders: ASKED,
    exposedHeaders: TOLD,
    maxAge: ANSWER_KEPT_SECONDS,
    credentials: false,
    hideOptionsRoute: true,
    strictPreflight: false,
  });
}
