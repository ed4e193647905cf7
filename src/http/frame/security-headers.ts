import type { FastifyInstance } from 'fastify';
import helmet, { type HelmetOptions } from 'helmet';

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

/** The most important of them, for answers that are given before there is a request that hooks could run for. */
export const SECURITY_HEADERS: Readonly<Record<string, string>> = {
  'content-security-policy': "default-src 'none';base-uri 'none';form-action 'none';frame-ancestors 'none'",
  'x-content-type-options': 'nosniff',
  'x-frame-options': 'DENY',
  'referrer-policy': 'no-referrer',
};
