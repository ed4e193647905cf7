import { ROOT_CONTEXT, type Span as SdkSpan, SpanKind, SpanStatusCode, trace, TraceFlags } from '@opentelemetry/api';
import { OTLPMetricExporter } from '@opentelemetry/exporter-metrics-otlp-proto';
import { OTLPTraceExporter } from '@opentelemetry/exporter-trace-otlp-proto';
import { defaultResource, detectResources, envDetector, resourceFromAttributes } from '@opentelemetry/resources';
import { MeterProvider, PeriodicExportingMetricReader } from '@opentelemetry/sdk-metrics';
import { BasicTracerProvider, BatchSpanProcessor } from '@opentelemetry/sdk-trace-base';
import type { Registry } from 'prom-client';
import { producerOf } from './metric-producer.ts';
import type { Span, Tracer } from './trace.ts';

const KINDS = { server: SpanKind.SERVER, consumer: SpanKind.CONSUMER, client: SpanKind.CLIENT };

/** What is exported of a process, until `stop`. */
interface Telemetry {
  tracer: Tracer | undefined;
  /** sends what a process measures from now on; nothing where metrics are off */
  exportMetrics(collect: () => Promise<readonly Registry[]>): void;
  /** sends what is left; bounded by the timeouts of the exporters */
  stop(): Promise<void>;
}

/**
 * The SDK of OpenTelemetry, which this file alone loads. Endpoint, headers, limits, sampler, batching and what the resource is called
 * are read by the SDK itself from the standard variables (`OTEL_…`).
 */
export function startTelemetry(
  settings: { traces: boolean; metrics: boolean; metricIntervalMs: number },
  service: { version: string; role: string },
): Telemetry {
  const named = resourceFromAttributes({ 'service.name': 'gridworthy', 'service.version': service.version });
  const part = resourceFromAttributes({ 'gridworthy.role': service.role });
  const given = detectResources({ detectors: [envDetector] });
  const resource = defaultResource().merge(named).merge(part).merge(given);
  const stops: (() => Promise<void>)[] = [];
  let tracer: Tracer | undefined;
  if (settings.traces) {
    const provider = new BasicTracerProvider({
      resource,
      spanProcessors: [new BatchSpanProcessor(new OTLPTraceExporter())],
    });
    tracer = tracerOf(provider);
    stops.push(() => provider.shutdown());
  }
  return {
    tracer,
    exportMetrics(collect) {
      if (!settings.metrics) return;
      const reader = new PeriodicExportingMetricReader({
        exporter: new OTLPMetricExporter(),
        exportIntervalMillis: settings.metricIntervalMs,
        exportTimeoutMillis: settings.metricIntervalMs,
        metricProducers: [producerOf(collect)],
      });
      const meters = new MeterProvider({ resource, readers: [reader] });
      stops.push(() => meters.shutdown());
    },
    async stop() {
      // A collector that is away is no reason to call a stop unsound.
      await Promise.allSettled(stops.map((stop) => stop()));
    },
  };
}

function tracerOf(provider: BasicTracerProvider): Tracer {
  const tracer = provider.getTracer('gridworthy');
  return {
    start({ name, kind, parent, attributes }) {
      const span = tracer.startSpan(name, { kind: KINDS[kind], attributes: { ...attributes } }, contextOf(parent));
      return spanOf(span);
    },
  };
}

function contextOf(parent: string | undefined) {
  const [, traceId, spanId, flags] = parent?.split('-') ?? [];
  if (traceId === undefined || spanId === undefined) return ROOT_CONTEXT;
  const traceFlags = flags === '01' ? TraceFlags.SAMPLED : TraceFlags.NONE;
  return trace.setSpanContext(ROOT_CONTEXT, { traceId, spanId, traceFlags, isRemote: true });
}

function spanOf(span: SdkSpan): Span {
  const { traceId, spanId, traceFlags } = span.spanContext();
  return {
    traceparent: `00-${traceId}-${spanId}-0${traceFlags & TraceFlags.SAMPLED}`,
    end({ failed = false, attributes = {} } = {}) {
      span.setAttributes(attributes);
      if (failed) span.setStatus({ code: SpanStatusCode.ERROR });
      span.end();
    },
  };
}
