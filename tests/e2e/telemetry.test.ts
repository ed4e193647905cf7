import { randomUUID } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeEach, expect, test } from 'vitest';
import { type Collector, startCollector } from '../support/otlp.ts';
import { createTestDatabase, type TestDatabase } from '../support/postgres.ts';
import { killServers, type RunningServer, startServer } from '../support/server-process.ts';
import { waitFor } from '../support/wait.ts';
import { type Receiver, startReceiver } from '../support/webhooks.ts';
import { type Car, type Club, enterCar, goodAnswers, setUpClub } from './club.ts';
import { sendOk } from './http.ts';

const TOKEN = 'organizer-token-for-telemetry';
// The example of W3C Trace Context, section 3.2.
const TRACE_ID = '4bf92f3577b34da6a3ce929d0e0e4736';
const PARENT_ID = '00f067aa0ba902b7';
const TRACEPARENT = `00-${TRACE_ID}-${PARENT_ID}-01`;

const folder = mkdtempSync(join(tmpdir(), 'gridworthy-telemetry-'));
/** Loaded before the program: says at its end what of OpenTelemetry it had loaded beyond its API, which other packages load. */
const probe = join(folder, 'probe.cjs');
writeFileSync(
  probe,
  `process.on('exit', () => require('node:fs').writeFileSync(process.env.PROBE_FILE,
    Object.keys(require.cache).filter((name) => /@opentelemetry.(?!api[^-])/.test(name)).join('\\n')));`,
);

let database: TestDatabase;
let collector: Collector;
let receiver: Receiver;

beforeEach(async () => {
  [database, collector, receiver] = await Promise.all([createTestDatabase(), startCollector(), startReceiver()]);
});
afterEach(async () => {
  await killServers();
  collector.close();
  receiver.close();
  await database.drop();
});
afterAll(async () => {
  await killServers();
  rmSync(folder, { recursive: true });
});

async function start(settings: Record<string, string>): Promise<{ server: RunningServer; loaded(): string }> {
  const file = join(folder, `loaded-${Object.keys(settings).length}`);
  const server = await startServer({
    DATABASE_URL: database.url,
    ORGANIZER_TOKEN: TOKEN,
    OUTBOX_POLL_MS: '100',
    WEBHOOK_ALLOW: '127.0.0.1',
    // What a busy test machine makes wait is not too much for the server.
    MAX_LOOP_DELAY_MS: '0',
    MAX_WAIT_MS: '0',
    NODE_OPTIONS: `--require ${probe}`,
    PROBE_FILE: file,
    ...settings,
  });
  return { server, loaded: () => readFileSync(file, 'utf8') };
}

async function listen(base: string, club: Club): Promise<void> {
  const body = { url: receiver.url, eventId: club.eventId, types: ['inspection.submitted'] };
  await sendOk(base, { method: 'POST', path: '/v1/webhooks', body, token: TOKEN });
}

const submitTraced = (base: string, car: Car, traceparent?: string) =>
  sendOk(base, {
    method: 'POST',
    path: `/v1/entries/${car.entryId}/inspections`,
    token: car.entrant,
    body: { answers: goodAnswers() },
    headers: { 'idempotency-key': randomUUID(), ...(traceparent === undefined ? {} : { traceparent }) },
  });

/** What came of one submit, once an export after it has arrived. */
async function expectMetrics(): Promise<void> {
  const submits = () =>
    collector
      .metrics()
      .get('gridworthy_http_request_duration_seconds')
      ?.histogram.find(({ attributes }) => attributes['route'] === '/v1/entries/:entryId/inspections');
  await waitFor('the metrics', () => submits() !== undefined, 30_000);
  const { count, bucketCounts = [], bounds = [] } = submits() ?? {};
  expect(count).toBe(1);
  expect(bucketCounts).toHaveLength(bounds.length + 1);
  expect(bucketCounts.reduce((sum, n) => sum + n, 0)).toBe(1);
  expect(collector.metrics().get('gridworthy_database_up')?.values).toEqual([1]);
  expect(collector.resource()).toMatchObject({
    'service.name': 'tech-office',
    'deployment.environment.name': 'test',
    'gridworthy.role': 'both',
  });
}

/** Of nothing that says who or which car it was, one byte may have gone out. */
function expectNobodyNamed(ids: readonly string[]): void {
  const everything = Buffer.concat(collector.bodies).toString('latin1');
  for (const text of ['4711', 'Entrant of', 'Test event', TOKEN, 'gw_', receiver.url, ...ids])
    expect(everything, text).not.toContain(text);
}

test('with a collector, a request, its jobs and its webhook message are one trace, and metrics are those of /metrics', async () => {
  const { server, loaded } = await start({
    OTEL_EXPORTER_OTLP_ENDPOINT: collector.url,
    OTEL_SERVICE_NAME: 'tech-office',
    OTEL_RESOURCE_ATTRIBUTES: 'deployment.environment.name=test',
    OTEL_BSP_SCHEDULE_DELAY: '200',
    OTEL_METRIC_EXPORT_INTERVAL: '1000',
  });
  const club = await setUpClub(server.base, TOKEN);
  await listen(server.base, club);
  const car = await enterCar(server.base, club, '4711');
  await submitTraced(server.base, car, TRACEPARENT);
  await waitFor('the message', () => receiver.received.length > 0, 30_000);

  const ofTrace = () => collector.spans().filter(({ traceId }) => traceId === TRACE_ID);
  await waitFor('the spans', () => ofTrace().some(({ kind }) => kind === 3), 30_000);
  const spans = ofTrace();
  const named = (name: string) => spans.find((span) => span.name === name);
  const request = named('POST /v1/entries/:entryId/inspections');
  expect(request).toMatchObject({
    parentSpanId: PARENT_ID,
    kind: 2,
    attributes: {
      'http.request.method': 'POST',
      'http.route': '/v1/entries/:entryId/inspections',
      'http.response.status_code': 201,
    },
  });
  for (const job of ['inspection.notify', 'webhook.fan-out'])
    expect(named(job), job).toMatchObject({ kind: 5, parentSpanId: request?.spanId, status: 0 });
  const sent = spans.find(({ kind }) => kind === 3);
  expect(sent?.attributes).toMatchObject({ 'http.response.status_code': 204 });
  expect(receiver.received[0]?.headers['traceparent']).toBe(`00-${TRACE_ID}-${sent?.spanId}-01`);
  // Who sends no trace begins one; machines that ask whether the server lives begin none.
  expect(collector.spans().some(({ name, parentSpanId }) => name === 'POST /v1/events' && parentSpanId === '')).toBe(
    true,
  );
  expect(collector.spans().filter(({ name }) => /readyz|metrics/.test(name))).toEqual([]);

  await expectMetrics();
  expect(await server.end('SIGTERM')).toBe(0);
  expect(loaded()).toContain('sdk-trace');
  expectNobodyNamed([car.entryId, club.eventId, car.entrant]);
});

test('without one nothing of it is loaded, and the trace of a caller is handed on as it came', async () => {
  const { server, loaded } = await start({ OTEL_SERVICE_NAME: 'nobody-collects' });
  const club = await setUpClub(server.base, TOKEN);
  await listen(server.base, club);
  await submitTraced(server.base, await enterCar(server.base, club, '1'), TRACEPARENT);
  await waitFor('the message', () => receiver.received.length === 1, 30_000);
  await submitTraced(server.base, await enterCar(server.base, club, '2'));
  await waitFor('the second message', () => receiver.received.length === 2, 30_000);
  expect(receiver.received.map(({ headers }) => headers['traceparent'])).toEqual([TRACEPARENT, undefined]);
  expect(await server.end('SIGTERM')).toBe(0);
  expect(loaded()).toBe('');
  expect(collector.bodies).toEqual([]);
});

test('a collector that is away keeps neither a request nor the stop', async () => {
  collector.close();
  const { server } = await start({
    OTEL_EXPORTER_OTLP_ENDPOINT: collector.url,
    OTEL_EXPORTER_OTLP_TIMEOUT: '2000',
    OTEL_BSP_SCHEDULE_DELAY: '100',
  });
  const club = await setUpClub(server.base, TOKEN);
  await submitTraced(server.base, await enterCar(server.base, club, '1'), TRACEPARENT);
  const startedAt = performance.now();
  expect(await server.end('SIGTERM')).toBe(0);
  expect(performance.now() - startedAt).toBeLessThan(15_000);
});
