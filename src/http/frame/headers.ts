import { z } from 'zod';
import compress from '@fastify/compress';
import cors from '@fastify/cors';
import type { FastifyInstance } from 'fastify';
import helmet from 'helmet';
import type { HelmetOptions } from 'helmet';
import { constants } from 'node:zlib';
import { CATALOGUE_LANGUAGES } from '../../domain/catalogue/texts.ts';
import { pickLanguage } from '../../domain/language.ts';
import { ProblemError } from './problem.ts';

/** A strong entity tag (RFC 9110 §8.8.3) from a row version, or from several where a view is made of several rows. */
export function etagOf(...versions: readonly (number | bigint | string)[]): string {
  return `"${versions.join('.')}"`;
}

/** Splits an `If-Match` or `If-None-Match` list; commas inside quotes belong to the tag. */
function tagsIn(header: string): string[] {
  return header.match(/\*|(?:W\/)?"[^"]*"/g) ?? [];
}

/**
 * Requires that the caller's `If-Match` names the current version (strong comparison, `*` matches anything).
 *
 * @throws ProblemError `precondition-required` (428) when it is missing, `precondition-failed` (412) with the current
 *   `ETag` when it is stale. Call it after authorisation: a 412 tells that the object exists.
 */
export function assertIfMatch(header: string | undefined, current: string): void {
  if (header === undefined) {
    throw new ProblemError(
      'precondition-required',
      'Send the ETag of the version you changed as If-Match.',
      {},
      { etag: current },
    );
  }
  const tags = tagsIn(header);
  if (tags.includes('*') || tags.includes(current)) return;
  throw stale(current);
}

/** The 412 answer with the version that is current now. */
export function stale(current: string): ProblemError {
  return new ProblemError('precondition-failed', `The current version is ${current}.`, {}, { etag: current });
}

/** Whether a cached copy is still good (`If-None-Match`, weak comparison as RFC 9110 §13.1.2 asks). */
export function isNotModified(header: string | undefined, current: string): boolean {
  if (header === undefined) return false;
  return tagsIn(header).some((tag) => tag === '*' || tag.replace(/^W\//, '') === current);
}

/** Whether a coding is named in `Accept-Encoding` and not ruled out (RFC 9110, section 12.5.3). */
export function takesCoding(header: string | undefined, coding: 'br' | 'gzip'): boolean {
  const named = (header ?? '').split(',').find((one) => one.split(';', 1)[0]?.trim().toLowerCase() === coding);
  return named !== undefined && !/;\s*q=0(\.0*)?\s*$/i.test(named);
}

/** The language that an answer is wanted in; see `decisions.md` why a header and no parameter. */
export const ACCEPT_LANGUAGE = {
  'accept-language': z
    .string()
    .optional()
    .describe('Languages of the texts, as in RFC 9110; absent or not spoken: the language of the rules'),
};
export const AcceptLanguage = z.looseObject(ACCEPT_LANGUAGE);

/**
 * The language to answer a request in.
 *
 * @param spoken languages beside those of the catalogue: of the texts of rules
 */
export function languageOf(
  headers: { 'accept-language'?: string | undefined },
  spoken: readonly string[] = [],
): string {
  const all = [...new Set([...CATALOGUE_LANGUAGES, ...spoken])];
  return pickLanguage(undefined, headers['accept-language'], all);
}

/** What an answer says of its language. */
export const languageHeaders = (language: string): Record<string, string> => ({
  'content-language': language,
  vary: 'Accept-Language',
});

/** The same for the document of the API. */
export const LANGUAGE_DOCUMENTED = { 'Content-Language': 'Language of the texts' };

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
