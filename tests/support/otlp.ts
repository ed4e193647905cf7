import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';

/** A span as it was exported. */
export interface ExportedSpan {
  traceId: string;
  spanId: string;
  parentSpanId: string;
  name: string;
  /** 2 server, 3 client, 5 consumer */
  kind: number;
  attributes: Record<string, unknown>;
  /** 2 is an error */
  status: number;
}

export interface ExportedHistogram {
  attributes: Record<string, unknown>;
  count: number;
  sum: number;
  bucketCounts: number[];
  bounds: number[];
}

export interface Collector {
  url: string;
  /** every byte that came, as it came */
  bodies: Buffer[];
  spans(): ExportedSpan[];
  /** what the last export said of each metric: points of a histogram, values of the others */
  metrics(): Map<string, { histogram: ExportedHistogram[]; values: number[] }>;
  /** attributes of the resource, of the last export */
  resource(): Record<string, unknown>;
  close(): void;
}

/** A collector on this machine that speaks OTLP over HTTP with protobuf, as the specification of OpenTelemetry has it. */
export async function startCollector(): Promise<Collector> {
  const received: { path: string; body: Buffer }[] = [];
  const server = createServer((request, reply) => {
    const parts: Buffer[] = [];
    request.on('data', (part: Buffer) => parts.push(part));
    request.on('end', () => {
      const wanted = request.headers['content-type'] === 'application/x-protobuf' && request.method === 'POST';
      received.push({ path: request.url ?? '', body: Buffer.concat(parts) });
      reply.writeHead(wanted ? 200 : 415, { 'content-type': 'application/x-protobuf' }).end();
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const of = (path: string) => received.filter((one) => one.path === path).map(({ body }) => body);
  return {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}`,
    get bodies() {
      return received.map(({ body }) => body);
    },
    spans: () => of('/v1/traces').flatMap((body) => descend(body, [1, 2, 2]).map(toSpan)),
    metrics: () => new Map(descend(of('/v1/metrics').at(-1), [1, 2, 2]).map(toMetric)),
    resource: () => attributesOf(descend(received.at(-1)?.body, [1, 1])[0], 1),
    close: () => {
      server.closeAllConnections();
      server.close();
    },
  };
}

// Field numbers: opentelemetry-proto 1.x, trace.proto, metrics.proto, common.proto. The wire format: protobuf.dev, "Encoding".

interface Field {
  number: number;
  /** bytes of what has a length, else the number */
  value: Buffer | bigint;
}

function readFields(message: Buffer): Field[] {
  const fields: Field[] = [];
  let at = 0;
  const varint = () => {
    let [value, shift] = [0n, 0n];
    for (;;) {
      const byte = message[at++] ?? 0;
      value |= BigInt(byte & 0x7f) << shift;
      if (byte < 0x80) return value;
      shift += 7n;
    }
  };
  const bytes = (length: number) => message.subarray(at, (at += length));
  while (at < message.length) {
    const key = Number(varint());
    const kind = key & 7;
    const value =
      kind === 0
        ? varint()
        : kind === 1
          ? bytes(8)
          : kind === 2
            ? bytes(Number(varint()))
            : kind === 5
              ? bytes(4)
              : null;
    if (value === null) throw new Error(`wire type ${kind}`);
    fields.push({ number: key >> 3, value });
  }
  return fields;
}

const all = (message: Buffer | undefined, number: number): (Buffer | bigint)[] =>
  message === undefined
    ? []
    : readFields(message)
        .filter((field) => field.number === number)
        .map(({ value }) => value);
const bytesOf = (message: Buffer | undefined, number: number) => all(message, number)[0] as Buffer | undefined;
const numberOf = (message: Buffer | undefined, number: number) => Number(all(message, number)[0] ?? 0n);
const textOf = (message: Buffer, number: number) => bytesOf(message, number)?.toString() ?? '';

function descend(message: Buffer | undefined, path: readonly number[]): Buffer[] {
  const [next, ...rest] = path;
  if (message === undefined) return [];
  return next === undefined ? [message] : (all(message, next) as Buffer[]).flatMap((inner) => descend(inner, rest));
}

function attributesOf(message: Buffer | undefined, number: number): Record<string, unknown> {
  const pairs = all(message, number) as Buffer[];
  return Object.fromEntries(pairs.map((pair) => [textOf(pair, 1), anyValue(bytesOf(pair, 2))]));
}

function anyValue(value: Buffer | undefined): unknown {
  const [field] = value === undefined ? [] : readFields(value);
  switch (field?.number) {
    case 1:
      return String(field.value);
    case 2:
      return field.value === 1n;
    case 3:
      return Number(field.value);
    case 4:
      return (field.value as Buffer).readDoubleLE();
    default:
      return undefined;
  }
}

const toSpan = (span: Buffer): ExportedSpan => ({
  traceId: bytesOf(span, 1)?.toString('hex') ?? '',
  spanId: bytesOf(span, 2)?.toString('hex') ?? '',
  parentSpanId: bytesOf(span, 4)?.toString('hex') ?? '',
  name: textOf(span, 5),
  kind: numberOf(span, 6),
  attributes: attributesOf(span, 9),
  status: numberOf(bytesOf(span, 15), 3),
});

function toMetric(metric: Buffer): [string, { histogram: ExportedHistogram[]; values: number[] }] {
  const points = [5, 7].flatMap((kind) => descend(metric, [kind, 1]));
  const histogram = descend(metric, [9, 1]).map((point) => ({
    attributes: attributesOf(point, 9),
    count: Number(bytesOf(point, 4)?.readBigUInt64LE() ?? 0n),
    sum: bytesOf(point, 5)?.readDoubleLE() ?? 0,
    bucketCounts: eights(bytesOf(point, 6)).map((one) => Number(one.readBigUInt64LE())),
    bounds: eights(bytesOf(point, 7)).map((one) => one.readDoubleLE()),
  }));
  const values = points.map((point) => bytesOf(point, 4)?.readDoubleLE() ?? 0);
  return [textOf(metric, 1), { histogram, values }];
}

/** A packed list of values of eight bytes. */
const eights = (list: Buffer | undefined): Buffer[] =>
  list === undefined ? [] : Array.from({ length: list.length / 8 }, (_, i) => list.subarray(i * 8, i * 8 + 8));
