import { type HrTime, ValueType } from '@opentelemetry/api';
import { hrTime } from '@opentelemetry/core';
import { emptyResource } from '@opentelemetry/resources';
import {
  AggregationTemporality,
  type DataPoint,
  DataPointType,
  type Histogram,
  type MetricData,
  type MetricProducer,
} from '@opentelemetry/sdk-metrics';
import type { MetricObjectWithValues, MetricValue, Registry } from 'prom-client';

type Measured = MetricObjectWithValues<MetricValue<string> & { metricName?: string }>;
type Labels = Record<string, string | number>;

/**
 * Gives what `/metrics` says to an exporter of OpenTelemetry, under the same names: nothing is measured twice. What is unknown
 * (NaN) is left out, and so are summaries, of which the process has none.
 *
 * @param collect brings the registries up to date and gives them
 */
export function producerOf(collect: () => Promise<readonly Registry[]>): MetricProducer {
  const startTime = hrTime();
  return {
    async collect() {
      const errors: unknown[] = [];
      const registries = await collect().catch((error: unknown) => {
        errors.push(error);
        return [];
      });
      const measured = (await Promise.all(registries.map((one) => one.getMetricsAsJSON()))).flat() as Measured[];
      const metrics = measured.flatMap((one) => toMetricData(one, { startTime, endTime: hrTime() }));
      const scopeMetrics = [{ scope: { name: 'gridworthy' }, metrics }];
      return { resourceMetrics: { resource: emptyResource(), scopeMetrics }, errors };
    },
  };
}

interface Times {
  startTime: HrTime;
  endTime: HrTime;
}

function toMetricData(measured: Measured, times: Times): MetricData[] {
  const { name, help, type } = measured;
  const descriptor = { name, description: help, unit: unitOf(name), valueType: ValueType.DOUBLE };
  const common = { descriptor, aggregationTemporality: AggregationTemporality.CUMULATIVE };
  // The package's types name them in capitals, its values are words.
  switch (String(type)) {
    case 'histogram':
      return [{ ...common, dataPointType: DataPointType.HISTOGRAM, dataPoints: histogramPoints(measured, times) }];
    case 'counter':
      return [{ ...common, dataPointType: DataPointType.SUM, isMonotonic: true, dataPoints: points(measured, times) }];
    case 'gauge':
      return [{ ...common, dataPointType: DataPointType.GAUGE, dataPoints: points(measured, times) }];
    default:
      return [];
  }
}

/** Units as UCUM writes them, which the convention of OpenTelemetry is. */
function unitOf(name: string): string {
  if (/_seconds(_total)?$/.test(name)) return 's';
  return name.endsWith('_bytes') ? 'By' : '';
}

function points({ values }: Measured, times: Times): DataPoint<number>[] {
  const known = values.filter(({ value }) => Number.isFinite(value));
  return known.map(({ labels, value }) => ({ ...times, attributes: labels as Labels, value }));
}

/** Buckets as they are counted there: each what is up to its bound; here each on its own, and one more above the last bound. */
function histogramPoints({ values }: Measured, times: Times): DataPoint<Histogram>[] {
  const series = new Map<string, { attributes: Labels; upTo: [number, number][]; sum: number; count: number }>();
  for (const { metricName = '', labels, value } of values) {
    const { le, ...attributes } = labels as Labels;
    const key = JSON.stringify(attributes);
    const one = series.get(key) ?? { attributes, upTo: [], sum: 0, count: 0 };
    series.set(key, one);
    if (metricName.endsWith('_sum')) one.sum = value;
    else if (metricName.endsWith('_count')) one.count = value;
    else if (le !== '+Inf') one.upTo.push([Number(le), value]);
  }
  return [...series.values()].map(({ attributes, upTo, sum, count }) => {
    const sorted = upTo.toSorted(([a], [b]) => a - b);
    const below = [0, ...sorted.map(([, n]) => n)];
    const counts = [...sorted.map(([, n]) => n), count].map((n, i) => n - (below[i] ?? 0));
    const value = { buckets: { boundaries: sorted.map(([bound]) => bound), counts }, sum, count };
    return { ...times, attributes, value };
  });
}
