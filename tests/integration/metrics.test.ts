import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp, type TestToken } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, gate, type TestEvent } from '../support/event.ts';
import { openReader } from '../support/event-source.ts';
import { parseExposition, type Sample } from '../support/exposition.ts';
import { sql } from '../support/records.ts';
import { waitFor } from '../support/wait.ts';

const METRICS_TOKEN = 'collector-token-of-a-test';
/** The built pages have a route for every address, and then no address is without one. */
const NO_PAGES = '/nonexistent';
const ROUTE_SECONDS = 'gridworthy_http_request_duration_seconds';

let t: TestApp;
let event: TestEvent;
let collector: TestToken;

beforeAll(async () => {
  t = await startTestApp({ config: { metricsToken: METRICS_TOKEN, webDir: NO_PAGES } });
  event = await createTestEvent(t);
  collector = { token: METRICS_TOKEN, tokenId: '', role: 'marshal', holder: '' };
});
afterAll(() => t.close());

async function scrape(as: TestToken | 'organizer' = collector): Promise<Sample[]> {
  const answer = await t.api(as).get('/metrics').expect(200);
  // Exposition formats of Prometheus, "Text-based format": the version is part of the type.
  expect(answer.headers['content-type']).toBe('text/plain; version=0.0.4; charset=utf-8');
  return parseExposition(answer.text).samples;
}

function valueOf(samples: readonly Sample[], name: string, labels: Record<string, string> = {}): number {
  const found = samples.filter(
    (sample) => sample.name === name && Object.entries(labels).every(([key, value]) => sample.labels[key] === value),
  );
  return found.reduce((sum, { value }) => sum + value, 0);
}

const countOf = (samples: readonly Sample[], labels: Record<string, string>) =>
  valueOf(samples, `${ROUTE_SECONDS}_count`, labels);

describe('what was asked is counted', () => {
  test('by route pattern, method and class of status, exactly', async () => {
    const before = await scrape();
    const organizer = t.api('organizer');
    for (let i = 0; i < 7; i += 1) await organizer.get(`/v1/events/${event.eventId}`).expect(200);
    for (let i = 0; i < 3; i += 1) await organizer.get('/v1/events/019ab8f0-0000-7000-8000-00000000dead').expect(404);
    for (let i = 0; i < 2; i += 1) await t.api(undefined).get('/v1/tokens').expect(401);
    for (let i = 0; i < 4; i += 1) await t.api(undefined).get(`/nothing/${i}?who=Somebody`).expect(404);
    const after = await scrape();
    const risen = (labels: Record<string, string>) => countOf(after, labels) - countOf(before, labels);
    expect(risen({ route: '/v1/events/:eventId', method: 'GET', status: '2xx' })).toBe(7);
    expect(risen({ route: '/v1/events/:eventId', method: 'GET', status: '4xx' })).toBe(3);
    expect(risen({ route: '/v1/tokens', status: '4xx' })).toBe(2);
    expect(risen({ route: '(none)' })).toBe(4);
    // The scrape before is the seventeenth.
    expect(risen({})).toBe(17);
  });

  test('in buckets that add up, with the time that it took', async () => {
    const began = performance.now();
    for (let i = 0; i < 5; i += 1) await t.api('organizer').get(`/v1/events/${event.eventId}/readiness`).expect(200);
    const seconds = (performance.now() - began) / 1000;
    const route = '/v1/events/:eventId/readiness';
    const samples = (await scrape()).filter(({ labels }) => labels['route'] === route);
    const buckets = samples.filter(({ name }) => name === `${ROUTE_SECONDS}_bucket`);
    const inOrder = buckets.toSorted((a, b) => Number(a.labels['le']) - Number(b.labels['le']) || 0);
    const counts = inOrder.filter(({ labels }) => labels['le'] !== '+Inf').map(({ value }) => value);
    expect(counts).toEqual(counts.toSorted((a, b) => a - b));
    expect(valueOf(buckets, `${ROUTE_SECONDS}_bucket`, { le: '+Inf' })).toBe(5);
    expect(countOf(samples, {})).toBe(5);
    const sum = valueOf(samples, `${ROUTE_SECONDS}_sum`);
    expect(sum).toBeGreaterThan(0);
    expect(sum).toBeLessThan(seconds);
  });

  test('at the gate by what was said, as often as the log of lookups has it', async () => {
    const before = await scrape();
    const clear = await createTestEntry(t, event);
    await accept(t, event, clear);
    const undeclared = await createTestEntry(t, event);
    t.clock.set('2026-06-13T08:00:00.000Z');
    for (let i = 0; i < 6; i += 1) await gate(t, event, clear.carNumber);
    for (let i = 0; i < 2; i += 1) await gate(t, event, undeclared.carNumber);
    for (let i = 0; i < 3; i += 1) await gate(t, event, 'ZZZ9');
    const after = await scrape();
    const logged = await sql<{ status: string; n: number }>(
      t,
      'SELECT status, count(*)::int AS n FROM gate_checks GROUP BY status',
    );
    expect(Object.fromEntries(logged.map(({ status, n }) => [status, n]))).toEqual({
      clear: 6,
      'no-declaration': 2,
      unknown: 3,
    });
    for (const { status, n } of logged) {
      const name = 'gridworthy_gate_lookups_total';
      expect(valueOf(after, name, { status }) - valueOf(before, name, { status }), status).toBe(n);
    }
  });
});

describe('what waits', () => {
  test('is counted from the outbox, with the age of the oldest', async () => {
    // No worker runs in this test, so everything that was ordered waits.
    const [row] = await sql<{ n: number }>(t, 'SELECT count(*)::int AS n FROM outbox WHERE published_at IS NULL');
    expect(row?.n).toBeGreaterThan(0);
    await sql(t, `UPDATE outbox SET attempts = 2 WHERE id = (SELECT min(id::text)::uuid FROM outbox)`);
    await sql(t, `UPDATE outbox SET created_at = now() - interval '90 seconds' WHERE attempts = 2`);
    const waiting = await scrape();
    expect(valueOf(waiting, 'gridworthy_outbox_waiting_rows')).toBe(row?.n);
    expect(valueOf(waiting, 'gridworthy_outbox_failing_rows')).toBe(1);
    expect(valueOf(waiting, 'gridworthy_outbox_oldest_waiting_seconds')).toBeGreaterThanOrEqual(90);
    expect(valueOf(waiting, 'gridworthy_outbox_oldest_waiting_seconds')).toBeLessThan(120);
    expect(valueOf(waiting, 'gridworthy_jobs_unfinished_rows')).toBe(0);
    await sql(t, `UPDATE outbox SET published_at = now() - interval '30 seconds', run_at = NULL`);
    const taken = await scrape();
    expect(valueOf(taken, 'gridworthy_outbox_waiting_rows')).toBe(0);
    expect(valueOf(taken, 'gridworthy_jobs_unfinished_rows')).toBe(row?.n);
    expect(valueOf(taken, 'gridworthy_jobs_oldest_unfinished_seconds')).toBeGreaterThanOrEqual(30);
    await sql(t, 'UPDATE outbox SET done_at = now()');
    expect(valueOf(await scrape(), 'gridworthy_jobs_unfinished_rows')).toBe(0);
  });

  test('streams are counted while they are open, and their length is nobody’s answer time', async () => {
    const token = await t.mint('marshal');
    const before = await scrape();
    const options = { token: token.token };
    const readers = [
      await openReader(t, `/v1/events/${event.eventId}/stream`, options),
      await openReader(t, `/v1/events/${event.eventId}/stream`, options),
    ];
    expect(valueOf(await scrape(), 'gridworthy_streams_open')).toBe(2);
    for (const reader of readers) reader.cut();
    await waitFor('none', async () => valueOf(await scrape(), 'gridworthy_streams_open') === 0);
    const after = await scrape();
    const stream = { route: '/v1/events/:eventId/stream' };
    expect(countOf(after, stream)).toBe(countOf(before, stream));
  });

  test('the pool, the process and the build are told', async () => {
    const samples = await scrape();
    expect(valueOf(samples, 'gridworthy_database_up')).toBe(1);
    expect(valueOf(samples, 'gridworthy_db_connections_max')).toBe(t.deps.config.poolSize);
    const open = valueOf(samples, 'gridworthy_db_connections');
    expect(open).toBeGreaterThan(0);
    expect(open).toBeLessThanOrEqual(t.deps.config.poolSize);
    expect(valueOf(samples, 'gridworthy_db_connection_waiters')).toBe(0);
    const build = samples.find(({ name }) => name === 'gridworthy_build_info');
    expect(build).toMatchObject({ value: 1, labels: { version: t.app.swagger().info.version, node: process.version } });
    for (const name of ['nodejs_eventloop_lag_seconds', 'process_resident_memory_bytes', 'process_cpu_seconds_total']) {
      expect(valueOf(samples, name), name).toBeGreaterThan(0);
    }
  });
});

describe('labels', () => {
  test('name no person, car, event, token or raw address', async () => {
    const { text } = await t.api(collector).get('/metrics').expect(200);
    for (const secret of [event.eventId, 'Entrant of', 'Test marshal', 'ZZZ9', 'gw_', METRICS_TOKEN, 'Somebody']) {
      expect(text, secret).not.toContain(secret);
    }
    expect(text).not.toMatch(/[0-9a-f]{8}-[0-9a-f]{4}-/);
  });

  test('have no more values than there are routes, whatever is asked', async () => {
    const routes = (samples: readonly Sample[]) =>
      new Set(samples.flatMap(({ labels }) => (labels['route'] === undefined ? [] : [labels['route']])));
    const before = routes(await scrape());
    for (let i = 0; i < 50; i += 1) await t.api(undefined).get(`/made-up/${i}`);
    for (let i = 0; i < 50; i += 1) await t.api('organizer').get(`/v1/events/${i}`);
    for (let i = 0; i < 5; i += 1) await t.app.inject({ method: 'QUERY' as 'GET', url: `/v1/made-up/${i}` });
    const samples = await scrape();
    expect(routes(samples)).toEqual(before);
    expect(samples.filter(({ labels }) => labels['method'] === 'QUERY')).toEqual([]);
  });
});

describe('access', () => {
  test('is for organizers and the collector, and for nobody else', async () => {
    expect((await scrape('organizer')).length).toBeGreaterThan(50);
    await t.api('chief').get('/metrics').expect(403);
    await t.api('marshal').get('/metrics').expect(403);
    const nobody = await t.api(undefined).get('/metrics').expect(401);
    expect(nobody.headers['content-type']).toMatch(/^application\/problem\+json/);
    await t
      .api({ ...collector, token: `${METRICS_TOKEN}x` })
      .get('/metrics')
      .expect(401);
    await t.api('organizer').get(`/metrics?token=${METRICS_TOKEN}`).expect(400);
  });

  test('the token of the collector opens nothing else', async () => {
    for (const path of ['/v1/events', '/v1/tokens', `/v1/events/${event.eventId}/gate/7`]) {
      await t.api(collector).get(path).expect(401);
    }
  });

  test('without a token in the configuration, only an organizer reads', async () => {
    const plain = await startTestApp({ config: { webDir: NO_PAGES } });
    try {
      await plain
        .api({ ...collector, token: 'undefined' })
        .get('/metrics')
        .expect(401);
      await plain.api(undefined).get('/metrics').expect(401);
      await plain.api('organizer').get('/metrics').expect(200);
    } finally {
      await plain.close();
    }
  });
});

test('without a database the collector is told so, and what is unknown reads NaN', async () => {
  const broken = await startTestApp({ config: { metricsToken: METRICS_TOKEN, webDir: NO_PAGES } });
  try {
    await broken.deps.db.close();
    const answer = await broken.api(collector).get('/metrics').expect(200);
    const { samples } = parseExposition(answer.text);
    expect(valueOf(samples, 'gridworthy_database_up')).toBe(0);
    expect(valueOf(samples, 'gridworthy_outbox_waiting_rows')).toBeNaN();
    expect(valueOf(samples, 'process_resident_memory_bytes')).toBeGreaterThan(0);
  } finally {
    await broken.close();
  }
});
