import { gzipSync } from 'node:zlib';
import type { Sent, World } from './build-request.ts';
import type { Recipe, Tamper } from './recipe.ts';

const MEDIA_TYPES = [
  'text/html',
  'application/xml',
  'application/json-patch+json',
  'nonsense',
  'application/x-www-form-urlencoded',
  'multipart/form-data',
];
const CHARSETS = ['utf-16', 'latin1', 'utf-7', '"utf-8"', 'x'.repeat(300)];
const METHODS = ['GET', 'POST', 'PUT', 'PATCH', 'DELETE', 'OPTIONS', 'HEAD', 'TRACE', 'PROPFIND', 'QUERY'];
const AUTHORIZATIONS = [
  'Bearer',
  'Bearer ',
  'Basic Z3c6eA==',
  'bearer gw_0',
  'Bearer a, Bearer b',
  `Bearer ${'x'.repeat(6000)}`,
  "Bearer ' OR 1=1 --",
  'Bearer gw_é',
  'null',
];
const ACCEPTS = [
  'application/xml',
  '*/*;q=0',
  'application/yaml',
  'text/csv',
  'image/svg+xml',
  ',,,',
  'x'.repeat(2000),
  'application/json;q=abc',
];
/** Filled once: ten megabytes are not made anew for each request. */
const HUGE = Buffer.alloc(10 * 1024 * 1024, 'x');

interface Means {
  callers: World['callers'];
  pick: number;
  /** the body as bytes; undefined when there is none */
  bytes: Buffer | undefined;
  of<T>(some: readonly T[]): T;
}

const WAYS: Readonly<Record<Tamper, (sent: Sent, means: Means) => void>> = {
  none: () => {},
  method: (sent, { of }) => {
    sent.method = of(METHODS.filter((method) => method !== sent.operation.method));
    if (!['GET', 'HEAD'].includes(sent.method)) return;
    delete sent.headers['content-type'];
    sent.payload = undefined;
  },
  'media type': ({ headers }, { of }) => {
    headers['content-type'] = of(MEDIA_TYPES);
  },
  charset: ({ headers }, { of }) => {
    headers['content-type'] = `${String(headers['content-type'] ?? 'application/json')}; charset=${of(CHARSETS)}`;
  },
  coding: (sent, { of, bytes, pick }) => {
    sent.headers['content-encoding'] = of(['gzip', 'br', 'deflate', 'identity', 'x']);
    if (bytes !== undefined && pick % 2 === 0) sent.payload = gzipSync(bytes);
  },
  'cut short': (sent, { bytes, pick }) => {
    if (bytes !== undefined) sent.payload = bytes.subarray(0, pick % Math.max(1, bytes.length));
  },
  empty: (sent) => {
    sent.payload = undefined;
  },
  'byte order mark': (sent, { bytes }) => {
    if (bytes !== undefined) sent.payload = Buffer.concat([Buffer.from('\ufeff'), bytes]);
  },
  'bad bytes': (sent, { bytes, pick }) => {
    if (bytes === undefined) return;
    const at = pick % (bytes.length + 1);
    sent.payload = Buffer.concat([bytes.subarray(0, at), Buffer.from([0xff, 0xc0, 0x80]), bytes.subarray(at)]);
  },
  'no media type': ({ headers }) => {
    delete headers['content-type'];
  },
  'duplicate headers': ({ headers }) => {
    for (const [name, value] of Object.entries(headers)) headers[name] = [String(value), String(value)];
  },
  'bad authorization': (sent, { of }) => {
    sent.headers['authorization'] = of(AUTHORIZATIONS);
    sent.caller = { name: 'nobody' };
  },
  'token in query': (sent, { of, callers }) => {
    const token = callers.find(({ role }) => role === 'organizer')?.token;
    delete sent.headers['authorization'];
    sent.url += `${sent.url.includes('?') ? '&' : '?'}${of(['token', 'access_token', 'authorization'])}=${token}`;
    sent.caller = { name: 'nobody' };
    sent.strangeQuery = true;
  },
  'body on any method': (sent, { of }) => {
    sent.payload = of(['{}', '{"a":1}', 'x', '[1]']);
    sent.headers['content-type'] = 'application/json';
  },
  accept: ({ headers }, { of }) => {
    headers['accept'] = of(ACCEPTS);
  },
  override: ({ headers }) => {
    headers['x-http-method-override'] = 'DELETE';
    headers['x-original-url'] = '/v1/tokens';
    headers['x-forwarded-for'] = '127.0.0.1, ::1';
  },
  huge: (sent) => {
    sent.payload = HUGE;
    sent.headers['content-type'] ??= 'application/json';
  },
};

/** Makes the request wrong where HTTP itself says how it should be. */
export function tamperWith(sent: Sent, { tamper, pick }: Recipe, { callers }: World): void {
  if (tamper === 'none') return;
  const bytes = sent.payload === undefined ? undefined : Buffer.from(sent.payload);
  const of = <T>(some: readonly T[]): T => some[pick % some.length] as T;
  WAYS[tamper](sent, { callers, pick, bytes, of });
  sent.bodyFits = undefined;
}
