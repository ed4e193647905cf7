import type { FastifyInstance } from 'fastify';

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
