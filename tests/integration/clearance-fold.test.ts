import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type CarHappening, foldCar } from '../../src/domain/clearance/car-happenings.ts';
import { type EntryHappening, foldClearance } from '../../src/domain/clearance/clearance.ts';
import { decideClearance } from '../../src/domain/clearance/decide-clearance.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  GOOD_ANSWERS,
  signOff,
  SMALL_RULE_SET,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { carFactsOf, carHistoryOf, factsOf, historyOf, stateOfEntry } from '../support/records.ts';
import { SIZE } from '../support/size.ts';

let t: TestApp;
let event: TestEvent;
let stickers = 0;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t, RULES);
});
afterAll(() => t.close());

/** The small set, where an exception to the age of the fluid needs two people. */
const RULES = {
  ...SMALL_RULE_SET,
  rules: SMALL_RULE_SET.rules.map((rule) => (rule.id === 'fluid-age' ? { ...rule, safetyCritical: true } : rule)),
};
const LONG_PEDAL = { ...GOOD_ANSWERS, 'brake.pedal': 'long' };
const OLD_FLUID = { ...LONG_PEDAL, 'brake-fluid.flushed-on': '2024-01-01' };
const SOME_DEBRIS = { ...GOOD_ANSWERS, 'radiator.debris': 'some' };
const LOOKED = [
  { item: 'radiator.debris', result: 'ok' },
  { item: 'brake.pedal', result: 'ok' },
  { item: 'brake-fluid.flushed-on', result: 'ok' },
];
const at = (hour: number) => new Date(Date.UTC(2026, 5, 13, hour)).toISOString();

interface Action {
  what: string;
  answers?: unknown;
  decision?: string;
  hour?: number;
  reinspect?: boolean;
  runGroup?: 'novice' | 'advanced';
  ruleId?: string;
  condition?: string | undefined;
}

const hour = fc.integer({ min: 5, max: 22 });
const arbAction: fc.Arbitrary<Action> = fc.oneof(
  {
    weight: 4,
    arbitrary: fc.record({
      what: fc.constant('submit'),
      answers: fc.constantFrom(GOOD_ANSWERS, SOME_DEBRIS, LONG_PEDAL, OLD_FLUID),
    }),
  },
  {
    weight: 6,
    arbitrary: fc.record({
      what: fc.constant('sign off'),
      decision: fc.constantFrom('accept', 'accept', 'accept-with-conditions', 'refuse'),
      hour,
    }),
  },
  { weight: 2, arbitrary: fc.constant({ what: 'hold' }) },
  { weight: 3, arbitrary: fc.record({ what: fc.constant('lift'), reinspect: fc.boolean() }) },
  {
    weight: 4,
    arbitrary: fc.record({
      what: fc.constant('concede'),
      hour,
      ruleId: fc.constantFrom('pedal-firm', 'fluid-age'),
      condition: fc.constantFrom(undefined, 'look again', 'three laps'),
    }),
  },
  { weight: 2, arbitrary: fc.constant({ what: 'approve' }) },
  { weight: 2, arbitrary: fc.constant({ what: 'revoke' }) },
  { weight: 2, arbitrary: fc.constant({ what: 'condition done' }) },
  { weight: 1, arbitrary: fc.record({ what: fc.constant('move'), runGroup: fc.constantFrom('novice', 'advanced') }) },
  { weight: 1, arbitrary: fc.constant({ what: 'claim and put back' }) },
  { weight: 1, arbitrary: fc.constant({ what: 'withdraw' }) },
);

/** Does one thing to the entry through the API. Refusals are part of the game; failures of ours are not. */
const ACTIONS: Record<string, (entry: TestEntry, action: Action) => Promise<{ status: number } | undefined>> = {
  submit: (entry, action) => submit(t, entry, action.answers),
  async 'sign off'(entry, { decision = 'accept', hour: due }) {
    const claimed = await claim(t, event, entry.carNumber);
    if (claimed.status !== 201) return claimed;
    stickers += 1;
    const accepting = { stickerNumber: `F${stickers}` };
    const conditions = [{ text: 'torque', dueAt: at(due ?? 12) }];
    const body =
      decision === 'refuse' ? { note: 'no' } : decision === 'accept' ? accepting : { ...accepting, conditions };
    const signed = await signOff(t, claimed.body.claimId, { decision, checks: LOOKED, ...body });
    // Others may have ended the claim meanwhile; what must not happen is a failure of ours.
    if (signed.status !== 201)
      expect((await t.api('inspector').delete(`/v1/claims/${claimed.body.claimId}`)).status).toBeLessThan(500);
    return signed;
  },
  hold: (entry) => t.api('inspector').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'leak' }),
  async lift(entry, { reinspect }) {
    const hold = await t.deps.db.prisma.hold.findFirst({ where: { entryId: entry.entryId, liftedAt: null } });
    if (hold === null) return undefined;
    return t
      .api('chief')
      .post(`/v1/holds/${hold.id}/lift`)
      .send({ reason: 'ok', requireReinspection: reinspect === true });
  },
  concede: (entry, action) =>
    t
      .api('chief')
      .post(`/v1/entries/${entry.entryId}/concessions`)
      .send({ ruleId: action.ruleId, reason: 'known', expiresAt: at(action.hour ?? 12), condition: action.condition }),
  async approve(entry) {
    const where = { entryId: entry.entryId, needsSecondPerson: true, approvedAt: null };
    const waiting = await t.deps.db.prisma.concession.findFirst({ where });
    return waiting === null ? undefined : t.api('organizer').post(`/v1/concessions/${waiting.id}/approve`);
  },
  async revoke(entry) {
    const standing = await t.deps.db.prisma.concession.findFirst({
      where: { entryId: entry.entryId, revokedAt: null },
    });
    return standing === null
      ? undefined
      : t.api('chief').post(`/v1/concessions/${standing.id}/revoke`).send({ reason: 'no more' });
  },
  async 'condition done'(entry) {
    const [open] = (await factsOf(t, entry.entryId)).conditions;
    if (open === undefined) return undefined;
    return t.api('inspector').post(`/v1/entries/${entry.entryId}/conditions/${open.id}/done`).send({});
  },
  move: (entry, action) =>
    t
      .api('organizer')
      .patch(`/v1/entries/${entry.entryId}`)
      .set('if-match', '*')
      .send({ runGroupId: event[action.runGroup ?? 'novice'] }),
  async 'claim and put back'(entry) {
    const claimed = await claim(t, event, entry.carNumber);
    if (claimed.status !== 201) return claimed;
    return t.api('inspector').delete(`/v1/claims/${claimed.body.claimId}`);
  },
  withdraw: (entry) => t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`),
};

async function eventsOf(entry: TestEntry): Promise<EntryHappening[]> {
  const rows = await historyOf(t, entry.entryId);
  return rows.flatMap((row) => (row.data as { event?: EntryHappening }).event ?? []);
}

async function assertFolds(entry: TestEntry): Promise<void> {
  const { entryId } = entry;
  const plain = (value: unknown) => JSON.parse(JSON.stringify(value));
  expect(await factsOf(t, entryId)).toEqual(plain(foldClearance(await eventsOf(entry))));
  const car = (await carHistoryOf(t, entryId)).flatMap((row) => (row.data as { event?: CarHappening }).event ?? []);
  expect(await carFactsOf(t, entryId)).toEqual(plain(foldCar(car)));
}

/** The line holds the entry exactly once while it waits to be looked at, and never a car that is barred or gone. */
async function checkLine(entry: TestEntry, status: string): Promise<void> {
  const tickets = await t.deps.db.prisma.ticket.count({
    where: { entryId: entry.entryId, state: { in: ['waiting', 'claimed'] } },
  });
  if (status === 'in-line') expect(tickets).toBe(1);
  if (['no-declaration', 'refused', 'clear', 'clear-with-conditions', 'withdrawn'].includes(status))
    expect(tickets).toBe(0);
}

test('after any actions the stored facts are the fold of the history, and the gate says what they decide', {
  timeout: 240_000,
}, async () => {
  const seen = new Map<string, number>();
  await fc.assert(
    fc.asyncProperty(fc.array(arbAction, { minLength: 6, maxLength: 14 }), async (actions) => {
      t.clock.set('2026-06-10T08:00:00Z');
      const entry = await createTestEntry(t, event);
      for (const action of actions) {
        const answer = await ACTIONS[action.what]?.(entry, action);
        if (answer !== undefined) expect(answer.status, JSON.stringify(action)).toBeLessThan(500);
        await assertFolds(entry);
        await checkLine(entry, decideClearance(await stateOfEntry(t, entry.entryId), t.clock.now()).status);
      }
      for (const instant of [at(-3), at(5), at(12), at(23), '2026-06-14T22:00:00.000Z']) {
        t.clock.set(instant);
        const { body } = await t.api('marshal').get(`/v1/events/${event.eventId}/gate/${entry.carNumber}`).expect(200);
        const { admit, status, reason, validUntil } = decideClearance(
          await stateOfEntry(t, entry.entryId),
          new Date(instant),
        );
        expect(body).toMatchObject({ admit, status, reason, validUntil });
        seen.set(status, (seen.get(status) ?? 0) + 1);
      }
      const { body } = await t.api('marshal').get(`/v1/entries/${entry.entryId}/history`);
      expect(body.intact).toBe(true);
    }),
    {
      numRuns: 40,
      endOnFailure: false,
      // Chance alone does not always come to a yes.
      examples: [
        [
          [
            { what: 'submit', answers: GOOD_ANSWERS },
            { what: 'sign off', decision: 'accept', hour: 12 },
          ],
        ],
      ],
    },
  );
  // Runs that never came to a yes, or to a no of each common kind, would say little.
  for (const status of ['clear', 'in-line', 'held', 'expired'])
    expect(seen.get(status) ?? 0, status).toBeGreaterThan(0);
});

test('actions at the same moment leave one chain, one fold and no failure of ours', { timeout: 240_000 }, async () => {
  for (const actions of fc.sample(fc.array(arbAction, { minLength: 24, maxLength: 24 }), SIZE.crowds)) {
    t.clock.set('2026-06-10T08:00:00Z');
    const entry = await createTestEntry(t, event);
    const { carNumber } = entry;
    const second = await createTestEntry(t, event, { carNumber, runGroupId: event.advanced, vehicle: undefined });
    const record = (one: TestEntry, i: number) =>
      t
        .api('organizer')
        .patch(`/v1/entries/${one.entryId}`)
        .set('if-match', '*')
        .send({ vehicle: { description: `Car ${i}` } });
    const answers = await Promise.all([
      ...actions.map((action) => ACTIONS[action.what]?.(action.what === 'move' ? second : entry, action)),
      ...Array.from({ length: 6 }, (_, i) => record(i % 2 === 0 ? entry : second, i)),
    ]);
    for (const answer of answers) expect(answer?.status ?? 200, JSON.stringify(answer)).toBeLessThan(500);
    for (const one of [entry, second]) {
      await assertFolds(one);
      await checkLine(one, decideClearance(await stateOfEntry(t, one.entryId), t.clock.now()).status);
      const { body } = await t.api('marshal').get(`/v1/entries/${one.entryId}/history`);
      expect(body.intact).toBe(true);
      const own = body.history.filter((row: { of: string }) => row.of === 'entry');
      expect(own.map((row: { seq: number }) => row.seq)).toEqual(own.map((_: unknown, i: number) => i + 1));
    }
  }
});
