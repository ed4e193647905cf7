import type { FastifyHelmetOptions } from '@fastify/helmet';

/** Nothing that this server answers may load, run, submit or be framed, unless the answer says otherwise itself. */
const NOTHING = { defaultSrc: ["'none'"], baseUri: ["'none'"], formAction: ["'none'"], frameAncestors: ["'none'"] };

/** The headers of every answer. TLS ends at a proxy in front of this server, which may promise it (HSTS); we cannot. */
export const HELMET: FastifyHelmetOptions = {
  global: true,
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

/** The most important of them, for answers that are given before there is a request that hooks could run for. */
export const SECURITY_HEADERS: Readonly<Record<string, string>> = {
  'content-security-policy': "default-src 'none';base-uri 'none';form-action 'none';frame-ancestors 'none'",
  'x-content-type-options': 'nosniff',
  'x-frame-options': 'DENY',
  'referrer-policy': 'no-referrer',
};
