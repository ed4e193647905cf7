import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  signOff,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { wholeRevision } from '../support/form.ts';
import { actionsOf, sql } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

const ACTIONS = [
  'submit',
  'hold',
  'own hold',
  'lift',
  'sign off',
  'refuse',
  'record',
  'swap',
  'share',
  'withdraw',
] as const;
type Action = (typeof ACTIONS)[number];
let stickers = 0;

async function decide(entry: TestEntry, decision: 'accept' | 'refuse') {
  const claimed = await claim(t, event, entry.carNumber);
  if (claimed.status !== 201) return claimed;
  stickers += 1;
  const body = decision === 'refuse' ? { note: 'hose' } : { stickerNumber: `L${stickers}` };
  return signOff(t, claimed.body.claimId, { decision, ...body });
}

function change(entry: TestEntry, body: object) {
  return t.api('organizer').patch(`/v1/entries/${entry.entryId}`).set('if-match', '*').send(body);
}

const DO: Record<Action, (entry: TestEntry, other: TestEntry) => PromiseLike<{ status: number; body?: unknown }>> = {
  submit: (entry) => submit(t, entry),
  hold: (entry) => t.api('marshal').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'leak', kind: 'leak' }),
  'own hold': (entry) =>
    t.api(entry.entrant).post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'I hit a cone' }),
  async lift(entry) {
    const where = { liftedAt: null, entry: { eventId: event.eventId } };
    const hold = await t.deps.db.prisma.hold.findFirst({ where: { ...where, entryId: entry.entryId } });
    if (hold === null) return { status: 200 };
    return t.api('chief').post(`/v1/holds/${hold.id}/lift`).send({ reason: 'seen', requireReinspection: true });
  },
  'sign off': (entry) => decide(entry, 'accept'),
  refuse: (entry) => decide(entry, 'refuse'),
  record: (entry) => change(entry, { vehicle: { description: `Car ${(stickers += 1)}` } }),
  swap: (entry, other) =>
    change(entry, {
      newVehicle: { description: `Spare of ${other.carNumber}`, body: 'closed', powertrain: 'combustion' },
    }),
  share: (entry) =>
    t
      .api('organizer')
      .post(`/v1/events/${event.eventId}/entries`)
      .send({ carNumber: entry.carNumber, runGroupId: event.advanced, entrant: { name: 'Second driver' } }),
  withdraw: (entry) => t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`),
};

describe('whatever happens to shared cars at the same moment', () => {
  test('ends without a deadlock and without a failure of ours', { timeout: 240_000 }, async () => {
    const [before] = await sql<{ deadlocks: string }>(
      t,
      'SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()',
    );
    const weighted = fc.constantFrom(...ACTIONS, 'submit', 'hold', 'lift', 'sign off', 'record', 'swap');
    for (const actions of fc.sample(fc.array(weighted, { minLength: 20, maxLength: 20 }), 4)) {
      const cars = [await createTestEntry(t, event), await createTestEntry(t, event)];
      const pairs = await Promise.all(
        cars.map(async (car) => {
          const shared = { carNumber: car.carNumber, runGroupId: event.advanced, vehicle: undefined };
          return [car, await createTestEntry(t, event, shared)] as const;
        }),
      );
      const answers = await Promise.all(
        actions.map((action, i) => {
          const [here, there] = i % 2 === 0 ? [0, 1] : [1, 0];
          const entry = pairs[here]?.[i % 3 === 0 ? 1 : 0];
          const other = pairs[there]?.[0];
          if (entry === undefined || other === undefined) throw new Error('there are two pairs');
          return Promise.resolve(DO[action](entry, other));
        }),
      );
      const failed = answers.filter(({ status }) => status >= 500);
      expect(failed.map(({ status, body }) => [status, body])).toEqual([]);
      for (const [one] of pairs) {
        const { body } = await t.api('marshal').get(`/v1/entries/${one.entryId}/history`).expect(200);
        expect(body.intact).toBe(true);
      }
    }
    const audit = await t.api('organizer').get(`/v1/events/${event.eventId}/audit`).expect(200);
    expect(audit.body.faults).toEqual([]);
    const [after] = await sql<{ deadlocks: string }>(
      t,
      'SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()',
    );
    expect(after?.deadlocks).toBe(before?.deadlocks);
  });
});

/** Until a request stands in the queue of a lock. */
async function somebodyWaits(): Promise<void> {
  for (let look = 0; look < 200; look += 1) {
    const { rows } = await t.deps.db.pool.query(
      `SELECT 1 FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'`,
    );
    if (rows.length > 0) return;
    await new Promise((done) => setTimeout(done, 20));
  }
}

test('a submit that waits is judged by the rules that the run group has when it is its turn', async () => {
  const own = await createTestEvent(t);
  const entry = await createTestEntry(t, own);
  const client = await t.deps.db.pool.connect();
  try {
    await client.query('BEGIN');
    await client.query('SELECT 1 FROM clearances WHERE entry_id = $1 FOR UPDATE', [entry.entryId]);
    const waiting = submit(t, entry);
    await somebodyWaits();
    await t
      .api('organizer')
      .patch(`/v1/events/${own.eventId}/run-groups/${own.novice}`)
      .set('if-match', '*')
      .send({ parameters: { padMinimum: { value: 9.5, unit: 'mm' } } })
      .expect(200);
    await client.query('COMMIT');
    const { status, body } = await waiting;
    expect(status).toBe(201);
    const pads = body.findings.filter(({ ruleId }: { ruleId: string }) => ruleId === 'pad-thickness');
    expect(new Set(pads.map(({ limit }: { limit: string }) => limit))).toEqual(new Set(['≥ 9.5 mm']));
  } finally {
    client.release();
  }
});

test('a submit that waits behind a change of the run group is judged by the group that the car is in then', async () => {
  const entry = await createTestEntry(t, event);
  const client = await t.deps.db.pool.connect();
  try {
    await client.query('BEGIN');
    await client.query('SELECT 1 FROM clearances WHERE entry_id = $1 FOR UPDATE', [entry.entryId]);
    const waiting = submit(t, entry);
    await somebodyWaits();
    await client.query('UPDATE entries SET run_group_id = $2 WHERE id = $1', [entry.entryId, event.advanced]);
    await client.query('COMMIT');
    const answer = await waiting;
    expect(answer.status).toBe(201);
    const whole = await wholeRevision(t, answer.body);
    const limits = whole.findings.filter(({ ruleId }: { ruleId: string }) => ruleId === 'pad-thickness');
    expect(JSON.stringify(limits)).toContain('6 mm');
    expect(await actionsOf(t, entry.entryId)).toContain('inspection.submitted');
  } finally {
    client.release();
  }
});
