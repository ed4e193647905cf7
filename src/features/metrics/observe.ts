import { Readable } from 'node:stream';
import type { FastifyInstance, FastifyReply, FastifyRequest, preSerializationHookHandler } from 'fastify';
import type { Meters } from './meters.ts';

const GATE_LOOKUP = '/v1/events/:eventId/gate/:carNumber';
const STREAM = '/v1/events/:eventId/stream';
/** For addresses that no route has, whatever they are. */
const NO_ROUTE = { method: '(any)', route: '(none)' };

/** Counts every answer of the application. Call it before routes are registered. */
export function observeAnswers(app: FastifyInstance, meters: Meters): void {
  const streaming = new WeakSet<object>();
  app.addHook('onResponse', (request, reply, done) => {
    // A stream takes as long as somebody looks at it, which says nothing about this server.
    if (!streaming.has(reply)) observe(meters, request, reply);
    done();
  });
  // Only these two routes pay for it.
  app.addHook('onRoute', (route) => {
    if (route.url === GATE_LOOKUP) route.preSerialization = countLookup(meters);
    if (route.url !== STREAM || route.method !== 'GET') return;
    route.onSend = (_request, reply, payload, done) => {
      if (payload instanceof Readable) {
        streaming.add(reply);
        meters.streams.inc();
        reply.raw.once('close', () => meters.streams.dec());
      }
      done(null, payload);
    };
  });
}

function observe({ durations }: Meters, request: FastifyRequest, reply: FastifyReply): void {
  const { url } = request.routeOptions;
  const labels = url === undefined ? NO_ROUTE : { method: request.method, route: url };
  durations.observe({ ...labels, status: `${Math.floor(reply.statusCode / 100)}xx` }, reply.elapsedTime / 1000);
}

function countLookup({ lookups }: Meters): preSerializationHookHandler {
  return (_request, _reply, payload, done) => {
    const { status } = payload as { status?: unknown };
    if (typeof status === 'string') lookups.inc({ status });
    done(null, payload);
  };
}
