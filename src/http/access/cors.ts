import cors from '@fastify/cors';
import type { FastifyInstance } from 'fastify';

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
