import { AsyncLocalStorage } from 'node:async_hooks';

/** Facts of a span. Few values each, and none that names a person, a car or an event. */
export type Attributes = Readonly<Record<string, string | number | boolean>>;

/** What a span is of: `server` answers a request, `consumer` runs a job, `client` sends to others. */
export type SpanKind = 'server' | 'consumer' | 'client';

interface SpanStart {
  name: string;
  kind: SpanKind;
  /** `traceparent` of what caused it; absent: a trace begins here */
  parent: string | undefined;
  attributes?: Attributes;
}

export interface Span {
  /** what is sent on as `traceparent` */
  traceparent: string;
  end(how?: { failed?: boolean; attributes?: Attributes }): void;
}

/** Makes spans; present only where they are exported. */
export interface Tracer {
  start(what: SpanStart): Span;
}

/** Version ff is forbidden, later ones may have more after a hyphen. */
const TRACEPARENT = /^(?!ff)([0-9a-f]{2})-((?!0{32})[0-9a-f]{32})-((?!0{16})[0-9a-f]{16})-([0-9a-f]{2})(-.*)?$/;

/**
 * Reads a `traceparent` header and gives it back as version 00; undefined where it is none, which begins a new trace.
 * Source: W3C Trace Context (Recommendation, 2021), sections 3.2.2 and 4.3.
 */
export function parseTraceparent(header: unknown): string | undefined {
  const found = typeof header === 'string' ? TRACEPARENT.exec(header) : null;
  if (found === null) return undefined;
  const [, version, traceId, parentId, flags = '00', more] = found;
  if (version === '00' && more !== undefined) return undefined;
  // Of the flags only `sampled` is known to version 00.
  return `00-${traceId}-${parentId}-0${Number.parseInt(flags, 16) & 1}`;
}

const store = new AsyncLocalStorage<string>();

/** The trace that this work belongs to, as `traceparent`; undefined where nobody traces. */
export const currentTrace = (): string | undefined => store.getStore();

/** Runs work as a part of a trace, or of none; what it writes and orders belongs to it. */
export function inTrace<T>(trace: string | undefined, work: () => Promise<T>): Promise<T> {
  return trace === store.getStore() ? work() : runIn(trace, work);
}

/** The store has no type for nothing, but takes it. */
const runIn = store.run.bind(store) as <T>(trace: string | undefined, work: () => Promise<T>) => Promise<T>;

/**
 * Runs work as a span of the trace that is given; without a tracer only as a part of that trace.
 *
 * @param work may note attributes that are known only at its end
 */
export async function asSpan<T>(
  tracer: Tracer | undefined,
  what: SpanStart,
  work: (note: (attributes: Attributes) => void) => Promise<T>,
): Promise<T> {
  if (tracer === undefined) return inTrace(what.parent, () => work(() => undefined));
  const span = tracer.start(what);
  let noted: Attributes = {};
  try {
    const result = await inTrace(span.traceparent, () =>
      work((attributes) => {
        noted = { ...noted, ...attributes };
      }),
    );
    span.end({ attributes: noted });
    return result;
  } catch (error) {
    // The name of the class and never the message, which may quote what somebody sent.
    const type = error instanceof Error ? error.name : 'unknown';
    span.end({ failed: true, attributes: { ...noted, 'error.type': type } });
    throw error;
  }
}
