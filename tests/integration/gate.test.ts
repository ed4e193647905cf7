import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { buildApp } from '../../src/app.ts';
import { openDeps } from '../../src/deps.ts';
import { CLEARANCE_STATUSES } from '../../src/domain/clearance/clearance.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { pause } from '../../src/platform/clock.ts';
import { openProxy } from '../faults/proxy.ts';
import { startTestApp, TEST_NOW, type TestApp, testConfig } from '../support/app.ts';
import {
  accept,
  claim,
  createTestEntry,
  createTestEvent,
  GOOD_ANSWERS,
  signOff,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { createTestDatabase } from '../support/postgres.ts';
import { sql } from '../support/records.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const ON_THE_DAY = '2026-06-13T08:00:00.000Z';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());
afterEach(async () => {
  t.clock.set(TEST_NOW);
  const back = { cancelledAt: null, cancelledBy: null, cancelledName: null, cancelReason: null };
  await t.deps.db.prisma.event.updateMany({ where: { cancelledAt: { not: null } }, data: back });
});

const look = (carNumber: string, query = '', as: Parameters<TestApp['api']>[0] = 'marshal', eventId = event.eventId) =>
  t.api(as).get(`/v1/events/${eventId}/gate/${encodeURIComponent(carNumber)}${query}`);
const lookAsNobody = (carNumber: string) => t.api(undefined).get(`/v1/events/${event.eventId}/gate/${carNumber}`);
const list = (own = event, as: Parameters<TestApp['api']>[0] = 'marshal') =>
  t.api(as).get(`/v1/events/${own.eventId}/gate`);
const post = (path: string, body: object, as: 'organizer' | 'chief' | 'inspector' = 'organizer') =>
  t.api(as).post(path).send(body);
const checks = (where: object) => t.deps.db.prisma.gateCheck.findMany({ where, orderBy: { id: 'asc' } });

/** One way to each status, as section 4 of the design names them. */
const WAYS: Record<
  (typeof CLEARANCE_STATUSES)[number],
  { admit: boolean; reason: RegExp; go(entry: TestEntry): Promise<unknown> }
> = {
  'no-declaration': { admit: false, reason: /No declaration/, go: async () => undefined },
  barred: {
    admit: false,
    reason: /^Barred: Brake pedal\.$/,
    go: (entry) => submit(t, entry, { ...GOOD_ANSWERS, 'brake.pedal': 'long' }),
  },
  'in-line': { admit: false, reason: /Waiting for inspection/, go: (entry) => submit(t, entry) },
  refused: {
    admit: false,
    reason: /Refused at the tech line: loose seat/,
    go: async (entry) => {
      await submit(t, entry);
      const { body } = await claim(t, event, entry.carNumber);
      return signOff(t, body.claimId, { decision: 'refuse', note: 'loose seat' });
    },
  },
  clear: { admit: true, reason: /^Signed off at the tech line\.$/, go: (entry) => accept(t, event, entry) },
  'clear-with-conditions': {
    admit: true,
    reason: /on condition: wheel torque/,
    go: (entry) =>
      accept(t, event, entry, { decision: 'accept-with-conditions', conditions: [{ text: 'wheel torque' }] }),
  },
  held: {
    admit: false,
    reason: /^Held: leak\.$/,
    go: async (entry) => {
      await accept(t, event, entry);
      return post(`/v1/entries/${entry.entryId}/holds`, { reason: 'leak' });
    },
  },
  expired: {
    admit: false,
    reason: /The sign-off ended at 2026-06-13T07:00:00.000Z/,
    go: (entry) => accept(t, event, entry, { validUntil: '2026-06-13T07:00:00Z' }),
  },
  cancelled: {
    admit: false,
    reason: /^The event was cancelled: ice on the track\.$/,
    go: async (entry) => {
      await accept(t, event, entry);
      await t.deps.db.prisma
        .$executeRaw`UPDATE events SET cancelled_at = ${t.clock.now()}, cancelled_by = gen_random_uuid(),
        cancelled_name = 'Office', cancel_reason = 'ice on the track' WHERE id = ${event.eventId}::uuid`;
    },
  },
  withdrawn: {
    admit: false,
    reason: /withdrawn/,
    go: async (entry) => {
      await accept(t, event, entry);
      return post(`/v1/entries/${entry.entryId}/withdraw`, {});
    },
  },
};

describe('a single lookup', () => {
  test.each(CLEARANCE_STATUSES)('answers %s', async (status) => {
    const { admit, reason, go } = WAYS[status];
    const entry = await createTestEntry(t, event, { vehicle: { description: 'Club coupé', colour: 'white' } });
    await go(entry);
    t.clock.set(ON_THE_DAY);
    const answer = await look(entry.carNumber);
    expect(answer.status).toBe(200);
    expect(answer.headers['cache-control']).toBe('no-store');
    expect(answer.body).toMatchObject({
      eventId: event.eventId,
      carNumber: entry.carNumber,
      admit,
      status,
      reason: expect.stringMatching(reason),
      asOf: ON_THE_DAY,
      similar: [],
      entries: [
        {
          entryId: entry.entryId,
          runGroupId: event.novice,
          runGroup: 'Novice',
          vehicle: 'Club coupé',
          colour: 'white',
          admit,
          status,
        },
      ],
      caution: expect.stringContaining('never guarantees'),
    });
    expect(answer.body.validUntil).toBe(admit ? '2026-06-14T22:00:00.000Z' : null);
    expect(answer.body.entries).toHaveLength(1);
  });

  test('an unknown number is an answer: no, with the numbers that may have been meant', async () => {
    const own = await createTestEvent(t);
    for (const carNumber of ['07', '17', '71', 'A7']) await createTestEntry(t, own, { carNumber });
    const answer = await look('7', '', 'marshal', own.eventId);
    expect(answer.status).toBe(200);
    expect(answer.body).toMatchObject({
      admit: false,
      status: 'unknown',
      validUntil: null,
      entries: [],
      similar: ['07', '17', '71', 'A7'],
    });
    expect(answer.body.reason).toContain('No car with the number 7 is entered here. Similar numbers: 07, 17, 71, A7.');
    for (const typed of ['1234567890', 'x'.repeat(40), 'ß', '7 7', "7' OR '1'='1", '%', '🏁']) {
      const odd = await look(typed, '', 'marshal', own.eventId);
      expect(odd.body, typed).toMatchObject({ carNumber: typed, admit: false, status: 'unknown' });
    }
  });

  test('what cannot be a number at all, or an unknown event, is a problem that says no', async () => {
    for (const answer of [await look('x'.repeat(41)), await look('\u0000'), await look(' ')]) {
      expect(answer.status).toBe(400);
      expect(answer.body.admit).toBe(false);
    }
    const answer = await look('7', '', 'marshal', UNKNOWN);
    expect(answer.status).toBe(404);
    expect(answer.body.admit).toBe(false);
    expect((await look('7', '?runGroupId=x')).body.admit).toBe(false);
    expect((await look('7', '?rungroupid=x')).status).toBe(400);
  });
});

describe('a shared car', () => {
  test('is admitted as a whole only if every entry admits; one run group can be asked for', async () => {
    const novice = await createTestEntry(t, event);
    const { carNumber } = novice;
    const advanced = await createTestEntry(t, event, { carNumber, runGroupId: event.advanced, vehicle: undefined });
    await accept(t, event, novice);
    t.clock.set(ON_THE_DAY);
    const half = await look(carNumber);
    expect(half.body).toMatchObject({ admit: false, status: 'no-declaration', validUntil: null });
    expect(half.body.reason).toBe('Advanced: No declaration has been submitted.');
    expect(half.body.entries.map((one: { admit: boolean }) => one.admit)).toEqual([true, false]);
    expect((await look(carNumber, `?runGroupId=${event.novice}`)).body).toMatchObject({
      admit: true,
      entries: [{ runGroup: 'Novice' }],
    });
    expect((await look(carNumber, `?runGroupId=${event.advanced}`)).body).toMatchObject({
      admit: false,
      status: 'no-declaration',
    });
    t.clock.set(TEST_NOW);
    await submit(t, advanced);
    const { body } = await claim(t, event, carNumber);
    const validUntil = '2026-06-13T15:00:00.000Z';
    await signOff(t, body.claimId, { decision: 'accept', stickerNumber: `A${carNumber}`, validUntil });
    t.clock.set(ON_THE_DAY);
    expect((await look(carNumber)).body).toMatchObject({ admit: true, status: 'clear', validUntil });
  });

  test('a run group the number is not in, or of another event, admits nobody', async () => {
    const entry = await createTestEntry(t, event);
    await accept(t, event, entry);
    t.clock.set(ON_THE_DAY);
    const other = await createTestEvent(t);
    for (const group of [event.advanced, other.novice, UNKNOWN]) {
      expect((await look(entry.carNumber, `?runGroupId=${group}`)).body).toMatchObject({
        admit: false,
        status: 'unknown',
        entries: [],
      });
    }
    expect((await look(entry.carNumber, '', 'marshal', other.eventId)).body).toMatchObject({
      admit: false,
      status: 'unknown',
    });
  });
});

describe('who may ask', () => {
  test('marshals and all staff, nobody else; a revoked token stops at once', async () => {
    const entry = await createTestEntry(t, event);
    for (const role of ['marshal', 'organizer', 'chief', 'inspector'] as const)
      expect((await look(entry.carNumber, '', role)).status).toBe(200);
    const refused = await look(entry.carNumber, '', entry.entrant);
    expect(refused.status).toBe(403);
    expect(refused.body.admit).toBe(false);
    expect((await list(event, entry.entrant)).status).toBe(403);
    const nobody = await lookAsNobody(entry.carNumber);
    expect(nobody.status).toBe(401);
    expect(nobody.headers['www-authenticate']).toMatch(/^Bearer/);
    expect(nobody.body.admit).toBe(false);
    const tablet = await t.mint('marshal');
    expect((await look(entry.carNumber, '', tablet)).status).toBe(200);
    await t.api('organizer').delete(`/v1/tokens/${tablet.tokenId}`).expect(204);
    expect((await look(entry.carNumber, '', tablet)).status).toBe(401);
    expect((await list(event, tablet)).status).toBe(401);
  });
});

describe('many at the same moment', () => {
  test('each gets the answer to the own question, whoever else asks', async () => {
    const good = await createTestEntry(t, event);
    await accept(t, event, good);
    t.clock.set(ON_THE_DAY);
    const revoked = await t.mint('marshal');
    await t.api('organizer').delete(`/v1/tokens/${revoked.tokenId}`).expect(204);
    const askers = [
      { ask: () => look(good.carNumber), expected: [200, true] },
      { ask: () => look('Q'), expected: [200, false] },
      { ask: () => look(good.carNumber, '', revoked), expected: [401, false] },
      { ask: () => look(good.carNumber, '', good.entrant), expected: [403, false] },
      { ask: () => look(good.carNumber, `?runGroupId=${event.advanced}`), expected: [200, false] },
      { ask: () => look(good.carNumber, '', 'marshal', UNKNOWN), expected: [404, false] },
      { ask: () => look(good.carNumber, '?runGroupId=x'), expected: [400, false] },
    ];
    const asked = Array.from({ length: 20 }, () => askers).flat();
    const answers = await Promise.all(asked.map(({ ask }) => ask()));
    expect(answers.map((answer) => [answer.status, answer.body.admit])).toEqual(asked.map(({ expected }) => expected));
  });

  test('a hold of a moment ago counts, however many lookups are under way', async () => {
    const entry = await createTestEntry(t, event);
    await accept(t, event, entry);
    t.clock.set(ON_THE_DAY);
    for (let round = 0; round < 5; round += 1) {
      const load = Array.from({ length: 40 }, () => look(entry.carNumber));
      const hold = await post(`/v1/entries/${entry.entryId}/holds`, { reason: 'leak' });
      const after = await Promise.all(Array.from({ length: 5 }, () => look(entry.carNumber)));
      expect(after.map((answer) => answer.body.admit)).toEqual([false, false, false, false, false]);
      await Promise.all(load);
      await post(`/v1/holds/${hold.body.holdId}/lift`, { reason: 'fine' });
      expect((await look(entry.carNumber)).body.admit).toBe(true);
    }
  });
});

describe('the log', () => {
  test('has a row per lookup: who, when, what was answered', async () => {
    const entry = await createTestEntry(t, event);
    const tablet = await t.mint('marshal', { holder: 'Gate tablet 2' });
    await look(entry.carNumber, `?runGroupId=${event.novice}`, tablet);
    await look('Q', '', tablet);
    expect(await checks({ askedBy: tablet.tokenId })).toMatchObject([
      {
        eventId: event.eventId,
        carNumber: entry.carNumber,
        runGroupId: event.novice,
        admit: false,
        status: 'no-declaration',
        askedName: 'Gate tablet 2',
        askedAt: new Date(TEST_NOW),
      },
      { carNumber: 'Q', runGroupId: null, admit: false, status: 'unknown' },
    ]);
  });

  test('has 200 rows after 200 lookups at once, each with its own answer', async () => {
    const good = await createTestEntry(t, event);
    await accept(t, event, good);
    const bad = await createTestEntry(t, event);
    t.clock.set(ON_THE_DAY);
    const tablets = await Promise.all(Array.from({ length: 4 }, () => t.mint('marshal')));
    const answers = await Promise.all(
      Array.from({ length: 200 }, (_, i) => look((i % 2 === 0 ? good : bad).carNumber, '', tablets[i % 4])),
    );
    for (const [i, answer] of answers.entries()) {
      const { carNumber } = i % 2 === 0 ? good : bad;
      expect(answer.body).toMatchObject({ carNumber, admit: i % 2 === 0 });
    }
    const rows = await checks({ askedBy: { in: tablets.map((tablet) => tablet.tokenId) } });
    expect(rows).toHaveLength(200);
    expect(rows.filter((row) => row.carNumber === good.carNumber && row.admit && row.status === 'clear')).toHaveLength(
      100,
    );
    expect(rows.filter((row) => row.carNumber === bad.carNumber && !row.admit)).toHaveLength(100);
  });

  test('refused lookups are no lookups', async () => {
    const before = await t.deps.db.prisma.gateCheck.count();
    await lookAsNobody('7');
    await look('7', '', 'marshal', UNKNOWN);
    expect(await t.deps.db.prisma.gateCheck.count()).toBe(before);
  });

  test('an answer that cannot be logged is not given', async () => {
    const own = await startTestApp({ own: true });
    try {
      const there = await createTestEvent(own);
      await sql(own, 'ALTER TABLE gate_checks ADD CONSTRAINT none CHECK (false) NOT VALID');
      const answer = await own.api('marshal').get(`/v1/events/${there.eventId}/gate/7`);
      expect(answer.status).toBe(500);
      expect(answer.body).toMatchObject({ admit: false, code: 'internal-error' });
    } finally {
      await own.close();
    }
  });
});

describe('the list', () => {
  test('says of every entry what its single lookup says', async () => {
    const own = await createTestEvent(t);
    const entries = [];
    for (const carNumber of ['10', '9', '09', 'A1']) entries.push(await createTestEntry(t, own, { carNumber }));
    await createTestEntry(t, own, { carNumber: '9', runGroupId: own.advanced, vehicle: undefined });
    await accept(t, own, entries[0] as TestEntry);
    await submit(t, entries[1] as TestEntry);
    t.clock.set(ON_THE_DAY);
    const answer = await list(own);
    expect(answer.status).toBe(200);
    expect(answer.body.entries.map((one: { carNumber: string }) => one.carNumber)).toEqual([
      '9',
      '9',
      '09',
      '10',
      'A1',
    ]);
    for (const one of answer.body.entries) {
      const single = await look(one.carNumber, `?runGroupId=${one.runGroupId}`, 'marshal', own.eventId);
      expect(single.body.entries).toEqual([one]);
    }
  });

  test('has an ETag that stays while nothing changes, and changes with a hold and with time alone', async () => {
    const own = await createTestEvent(t);
    const entry = await createTestEntry(t, own);
    await accept(t, own, entry);
    t.clock.set(ON_THE_DAY);
    const first = await list(own);
    const same = await list(own).set('if-none-match', `"other", W/${first.headers['etag']}`);
    expect(same.status).toBe(304);
    expect(same.text).toBe('');
    for (const header of ['etag', 'cache-control', 'vary'] as const)
      expect(same.headers[header]).toBe(first.headers[header]);
    await post(`/v1/entries/${entry.entryId}/holds`, { reason: 'noise' });
    const held = await list(own).set('if-none-match', first.headers['etag'] ?? '');
    expect(held.status).toBe(200);
    expect(held.body.entries[0]).toMatchObject({ admit: false, status: 'held' });
    const other = await createTestEvent(t);
    const lone = await createTestEntry(t, other);
    t.clock.set(TEST_NOW);
    await accept(t, other, lone);
    t.clock.set(ON_THE_DAY);
    const open = await list(other);
    t.clock.set('2026-06-14T22:00:00.000Z');
    const over = await list(other).set('if-none-match', open.headers['etag'] ?? '');
    expect(over.status).toBe(200);
    expect(over.body.entries[0]).toMatchObject({ admit: false, status: 'expired' });
  });

  test('of an event without entries is empty, of an unknown event a 404', async () => {
    const own = await createTestEvent(t);
    expect((await list(own)).body).toMatchObject({ entries: [] });
    const answer = await list({ ...own, eventId: UNKNOWN });
    expect(answer.status).toBe(404);
    expect(answer.body.admit).toBe(false);
  });
});

describe('when something of ours fails', () => {
  const paths = (eventId: string) => [`/v1/events/${eventId}/gate/7`, `/v1/events/${eventId}/gate`];

  test('a database that nobody answers for is 503 and no admission', async () => {
    const deps = openDeps(testConfig(), 'postgres://nobody@127.0.0.1:1/nothing', createLogger({ level: 'silent' }));
    const app = await buildApp(deps);
    for (const url of paths(event.eventId)) {
      const answer = await app.inject({ url, headers: { authorization: 'Bearer gw_anything' } });
      expect(answer.statusCode).toBe(503);
      expect(answer.headers['content-type']).toMatch(/^application\/problem\+json/);
      expect(answer.headers['retry-after']).toBe('5');
      expect(answer.json()).toMatchObject({ code: 'database-unavailable', admit: false });
    }
    await app.close();
    await deps.db.close();
  });

  test('a database that goes away under a car that was clear is 503 and no admission', async () => {
    const database = await createTestDatabase();
    const proxy = await openProxy(() => Number(new URL(database.url).port));
    const url = Object.assign(new URL(database.url), { port: String(proxy.port) }).href;
    const own = await startTestApp({ database: { url, drop: database.drop } });
    try {
      const there = await createTestEvent(own);
      const entry = await createTestEntry(own, there);
      await accept(own, there, entry);
      own.clock.set(ON_THE_DAY);
      const path = `/v1/events/${there.eventId}/gate/${entry.carNumber}`;
      expect((await own.api('marshal').get(path)).body.admit).toBe(true);
      const mend = proxy.cut('drop');
      const answer = await own.api('marshal').get(path);
      expect(answer.status).toBe(503);
      expect(answer.body.admit).toBe(false);
      mend();
      expect((await own.api('marshal').get(path)).body.admit).toBe(true);
    } finally {
      await own.close();
      await proxy.close();
    }
  });

  test('a database that is frozen is 503 and no admission within 3 seconds, for everybody who waits', async () => {
    const database = await createTestDatabase();
    const proxy = await openProxy(() => Number(new URL(database.url).port));
    const url = Object.assign(new URL(database.url), { port: String(proxy.port) }).href;
    const own = await startTestApp({ database: { url, drop: database.drop } });
    try {
      const path = `/v1/events/${(await createTestEvent(own)).eventId}/gate/7`;
      expect((await own.api('marshal').get(path)).status).toBe(200);
      const mend = proxy.cut('hang');
      const ask = async (afterMs: number) => {
        await pause(afterMs);
        const from = performance.now();
        const { status, body } = await own.api('marshal').get(path);
        return { status, admit: body.admit, inTime: performance.now() - from < 3000 };
      };
      // Some come while others wait already, and some find new connections frozen too.
      const answers = await Promise.all([0, 0, 0, 500, 1500, 2200, 3000].map(ask));
      mend();
      for (const answer of answers) expect(answer).toEqual({ status: 503, admit: false, inTime: true });
      expect((await own.api('marshal').get(path)).status).toBe(200);
    } finally {
      await own.close();
      await proxy.close();
    }
  });

  test('facts that nobody can read are no admission', async () => {
    const entry = await createTestEntry(t, event);
    await accept(t, event, entry);
    t.clock.set(ON_THE_DAY);
    await sql(
      t,
      `UPDATE clearances SET facts = jsonb_set(facts, '{signOff,validUntil}', '"soon"') WHERE entry_id = $1`,
      [entry.entryId],
    );
    const answer = await look(entry.carNumber);
    expect(answer.status).toBe(500);
    expect(answer.body.admit).toBe(false);
    await sql(t, `UPDATE clearances SET facts = '{}' WHERE entry_id = $1`, [entry.entryId]);
    expect((await look(entry.carNumber)).body.admit).toBe(false);
  });
});
