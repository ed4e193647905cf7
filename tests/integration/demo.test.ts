import type { AddressInfo } from 'node:net';
import { afterAll, afterEach, beforeAll, expect, test, vi } from 'vitest';
import { type DemoSummary, runDemo } from '../../seed/demo.ts';
import { runDemoWithServer } from '../../seed/with-server.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { tickingClock } from '../support/clock.ts';
import { sql } from '../support/records.ts';

let t: TestApp;
let baseUrl: string;
let organizerToken: string;

beforeAll(async () => {
  t = await startTestApp({ clock: tickingClock() });
  baseUrl = `http://127.0.0.1:${(t.app.server.address() as AddressInfo).port}`;
  organizerToken = (await t.mint('organizer', { holder: 'Office desk' })).token;
});
afterAll(() => t.close());
afterEach(() => vi.restoreAllMocks());

const real = globalThis.fetch;
const demo = (): Promise<DemoSummary> => runDemo({ baseUrl, organizerToken });
const events = () => t.deps.db.prisma.event.findMany({ select: { name: true } });

/** The first so many calls arrive, and no other. */
function cutOffAfter(calls: number): void {
  let made = 0;
  vi.spyOn(globalThis, 'fetch').mockImplementation((...call) => {
    made += 1;
    return made > calls ? Promise.reject(new TypeError('fetch failed')) : real(...call);
  });
}

/** Every fifth call is shed by a busy server, which says when to ask again. */
function busy(): { shed: number } {
  const seen = { shed: 0 };
  let made = 0;
  vi.spyOn(globalThis, 'fetch').mockImplementation((...call) => {
    made += 1;
    if (made % 5 !== 0) return real(...call);
    seen.shed += 1;
    return Promise.resolve(new Response('{"status":503}', { status: 503, headers: { 'retry-after': '0' } }));
  });
  return seen;
}

test('a demo that is cut off is finished by the next one, wherever it stopped, on a busy server too', async () => {
  // Before the event, among the groups, among the entries, and twice among declarations and sign-offs.
  for (const calls of [5, 11, 40, 100, 50]) {
    cutOffAfter(calls);
    await expect(demo()).rejects.toThrow('did not answer');
    vi.restoreAllMocks();
    // What an inspector had in hand is free again when its lease ends; a test does not wait for that.
    await sql(t, `UPDATE claims SET expires_at = claimed_at + interval '1 ms' WHERE ended_at IS NULL`);
  }
  expect((await events()).map(({ name }) => name)).toEqual([expect.stringMatching(/ \(being set up\)$/)]);

  const seen = busy();
  const finished = await demo();
  expect(seen.shed).toBeGreaterThan(0);
  expect(finished.created).toBe(true);
  expect((await events()).map(({ name }) => name)).toEqual([finished.eventName]);

  vi.restoreAllMocks();
  const again = await demo();
  expect(again).toMatchObject({ created: false, eventId: finished.eventId, statuses: finished.statuses });
}, 240_000);

test('a demo that fails in the server says so and leaves the server alone', async () => {
  cutOffAfter(3);
  const said = await runDemoWithServer({ deps: t.deps, baseUrl, publicUrl: baseUrl, organizerToken });
  expect(said).toMatch(/The demo is not complete: .* did not answer/);
  expect((await real(`${baseUrl}/readyz`)).status).toBe(200);
});
