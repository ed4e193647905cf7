import type { FastifyInstance, FastifyRequest } from 'fastify';
import { parseTraceparent, type Span, type Tracer } from '../../platform/telemetry/trace.ts';

/** For addresses that no route has, whatever they are. */
const NO_ROUTE = '(none)';
/** What machines ask every few seconds tells nothing in a trace. */
const PROBES = /^\/(?:healthz|livez|readyz|metrics)$/;

/**
 * Takes a request's place in a trace (W3C Trace Context) from its headers, and makes a span of it where traces are exported. What its
 * handler orders belongs to the same trace. Without a tracer nothing begins a trace, and a caller's is handed on as it came.
 */
export function installTrace(app: FastifyInstance, tracer: Tracer | undefined): void {
  app.decorateRequest('trace', undefined);
  if (tracer === undefined) {
    app.addHook('onRequest', (request, _reply, done) => {
      const { traceparent } = request.headers;
      if (traceparent !== undefined) request.trace = parseTraceparent(traceparent);
      done();
    });
    return;
  }
  const spans = new WeakMap<FastifyRequest, Span>();
  app.addHook('onRequest', (request, _reply, done) => {
    const { url: route = NO_ROUTE } = request.routeOptions;
    if (PROBES.test(route)) return done();
    const parent = parseTraceparent(request.headers['traceparent']);
    const attributes = { 'http.request.method': request.method, 'http.route': route };
    const span = tracer.start({ name: `${request.method} ${route}`, kind: 'server', parent, attributes });
    spans.set(request, span);
    request.trace = span.traceparent;
    done();
  });
  const end = (request: FastifyRequest, how: Parameters<Span['end']>[0]) => {
    spans.get(request)?.end(how);
    spans.delete(request);
  };
  app.addHook('onResponse', (request, { statusCode }, done) => {
    end(request, { failed: statusCode >= 500, attributes: { 'http.response.status_code': statusCode } });
    done();
  });
  app.addHook('onRequestAbort', (request, done) => {
    end(request, { failed: true, attributes: { 'error.type': 'aborted' } });
    done();
  });
}

declare module 'fastify' {
  interface FastifyRequest {
    /** the trace that it belongs to, as `traceparent` */
    trace: string | undefined;
  }
}
