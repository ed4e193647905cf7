import { describe, expect, test } from 'vitest';
import { limitFailedAuth } from '../../src/http/access/guards.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent } from '../support/event.ts';

/** What a caller with a token may ask; a tenth of it would be six failures, but ten is the least. */
const PER_MINUTE = 60;
const FAILURES = 10;

async function withApp(run: (t: TestApp) => Promise<void>, config = {}): Promise<void> {
  const t = await startTestApp({ config: { rateLimitPerMinute: PER_MINUTE, ...config } });
  try {
    await run(t);
  } finally {
    await t.close();
  }
}

let made = 0;
/** A token that looks right and that nobody has, another one each time. */
const madeUp = () => `gw_${String((made += 1)).padStart(43, 'x')}`;

const ask = (t: TestApp, url: string, token?: string, remoteAddress = '203.0.113.7') =>
  t.app.inject({ url, remoteAddress, headers: token === undefined ? {} : { authorization: `Bearer ${token}` } });

describe('made-up tokens (OWASP API2:2023, API4:2023)', () => {
  test.each([
    ['an operation', () => '/v1/events'],
    ['the gate, which looks its caller up itself', (eventId: string) => `/v1/events/${eventId}/gate/7`],
  ])('are limited together, whatever they are, at %s', async (_what, urlOf) => {
    await withApp(async (t) => {
      const url = urlOf('019ab8f0-0000-7000-8000-00000000dead');
      const answers = [];
      for (let i = 0; i < FAILURES + 5; i += 1) answers.push(await ask(t, url, i % 3 === 0 ? undefined : madeUp()));
      expect(answers.map(({ statusCode }) => statusCode)).toEqual([
        ...Array(FAILURES).fill(401),
        ...Array(5).fill(429),
      ]);
      const last = answers.at(-1);
      expect(Number(last?.headers['retry-after'])).toBeGreaterThan(0);
      expect(Number(last?.headers['retry-after'])).toBeLessThanOrEqual(60);
      expect(last?.headers['content-type']).toMatch(/^application\/problem\+json/);
      expect(last?.json()).toMatchObject({ code: 'too-many-requests', status: 429 });
      // Another address has its own count.
      expect((await ask(t, url, madeUp(), '203.0.113.8')).statusCode).toBe(401);
    });
  });

  test('do not keep a marshal of the same address from his answer, not even with a token that was never seen', async () => {
    await withApp(async (t) => {
      const event = await createTestEvent(t);
      const entry = await createTestEntry(t, event);
      await accept(t, event, entry);
      t.clock.set('2026-06-13T08:00:00.000Z');
      const url = `/v1/events/${event.eventId}/gate/${entry.carNumber}`;
      for (let i = 0; i < 300; i += 1) await ask(t, i % 2 === 0 ? url : '/v1/events', madeUp());
      for (let i = 0; i < 5; i += 1) {
        const { token } = await t.mint('marshal', { holder: `Tablet ${i}` });
        const answer = await ask(t, url, token);
        expect([answer.statusCode, answer.json().admit]).toEqual([200, true]);
        expect((await ask(t, url, madeUp())).statusCode).toBe(429);
      }
    });
  });

  test('at the gate say no, also when there were too many', async () => {
    await withApp(async (t) => {
      const url = '/v1/events/019ab8f0-0000-7000-8000-00000000dead/gate/7';
      for (let i = 0; i <= FAILURES; i += 1) expect((await ask(t, url, madeUp())).json().admit).toBe(false);
    });
  });
});

describe('a caller with a token', () => {
  test('has a count of its own, also for what its role may not do', async () => {
    await withApp(async (t) => {
      const { token } = await t.mint('marshal');
      const statuses = [];
      for (let i = 0; i < PER_MINUTE + 5; i += 1) statuses.push((await ask(t, '/v1/tokens', token)).statusCode);
      expect(statuses).toEqual([...Array(PER_MINUTE).fill(403), ...Array(5).fill(429)]);
      const { token: other } = await t.mint('marshal');
      expect((await ask(t, '/v1/events', other)).statusCode).toBe(200);
    });
  });

  test('is counted once for one token, whatever is written around it', async () => {
    await withApp(async (t) => {
      const { token } = await t.mint('marshal');
      for (let i = 0; i < PER_MINUTE; i += 1) {
        const headers = { authorization: `${i % 2 === 0 ? 'bearer' : 'Bearer'}${' '.repeat((i % 5) + 1)}${token}` };
        expect((await t.app.inject({ url: '/v1/events', headers })).statusCode).toBe(200);
      }
      expect((await ask(t, '/v1/events', token)).statusCode).toBe(429);
    });
  });
});

describe('callers without a token', () => {
  test('are limited by address for pages and for addresses that do not exist', async () => {
    await withApp(async (t) => {
      const statuses = [];
      for (let i = 0; i < PER_MINUTE + 3; i += 1) {
        statuses.push((await ask(t, i % 2 === 0 ? `/nothing-${i}` : '/problems', madeUp())).statusCode);
      }
      expect(statuses.slice(PER_MINUTE)).toEqual([429, 429, 429]);
      expect(statuses.slice(0, PER_MINUTE).every((status) => status === 200 || status === 404)).toBe(true);
    });
  });

  test('cannot choose their address by a header that no proxy of ours has set', async () => {
    await withApp(async (t) => {
      const statuses = [];
      for (let i = 0; i < FAILURES + 3; i += 1) {
        const headers = { authorization: `Bearer ${madeUp()}`, 'x-forwarded-for': `198.51.100.${i}` };
        statuses.push((await t.app.inject({ url: '/v1/events', headers })).statusCode);
      }
      expect(statuses.slice(-3)).toEqual([429, 429, 429]);
    });
  });
});

describe('the count of failures', () => {
  const failed = (limit: ReturnType<typeof limitFailedAuth>, address: string) =>
    limit.refusalFor(address) !== undefined;

  test('starts again after a minute', () => {
    let now = 0;
    const limit = limitFailedAuth({ perMinute: 2, nowMs: () => now });
    expect([1, 2, 3].map(() => failed(limit, '192.0.2.1'))).toEqual([false, false, true]);
    now = 59_001;
    expect(limit.refusalFor('192.0.2.1')?.headers).toEqual({ 'retry-after': '1' });
    now = 60_000;
    expect(failed(limit, '192.0.2.1')).toBe(false);
  });

  test('takes all addresses of an IPv6 network of 64 bits for one (RFC 4291, section 2.5.1)', () => {
    const limit = limitFailedAuth({ perMinute: 2, nowMs: () => 0 });
    const results = ['2001:db8::1', '2001:db8::2', '2001:db8:0:0:ffff::3', '2001:db8:0:1::1'];
    expect(results.map((address) => failed(limit, address))).toEqual([false, false, true, false]);
    expect(failed(limit, '::ffff:192.0.2.9') || failed(limit, '192.0.2.9')).toBe(false);
    expect(failed(limit, '192.0.2.9')).toBe(true);
  });

  test('remembers so many addresses and no more', () => {
    const limit = limitFailedAuth({ perMinute: 1, nowMs: () => 0 });
    for (let i = 0; i < 30_000; i += 1) failed(limit, `10.${i >> 16}.${(i >> 8) & 255}.${i & 255}`);
    const late = 29_999;
    expect(failed(limit, `10.0.${late >> 8}.${late & 255}`)).toBe(true);
    // The first were forgotten, so they begin again.
    expect(failed(limit, '10.0.0.0')).toBe(false);
  });
});
