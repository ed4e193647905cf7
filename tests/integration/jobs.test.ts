import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { v7 as uuidV7 } from 'uuid';
import { JOBS } from '../../src/worker.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import {
  accept,
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  signOff,
  submit,
  type TestEvent,
} from '../support/event.ts';
import { JOB_CONTEXT } from '../support/jobs.ts';
import { actionsOf, factsOf, historyOf, ordered, sql } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

/** Runs the handler of a job as the worker does: the payload is parsed first. */
async function run(name: string, payload: unknown, context = JOB_CONTEXT): Promise<void> {
  const job = JOBS.find((candidate) => candidate.name === name);
  if (job === undefined) throw new Error(`no job ${name}`);
  await job.handle(t.deps, job.payload.parse(payload), context);
}
const runOut = (claimId: string) =>
  sql(t, `UPDATE claims SET expires_at = now() - interval '1 second' WHERE id = $1`, [claimId]);
const notes = (entryId: string) =>
  t.deps.db.prisma.notification.findMany({ where: { entryId }, orderBy: { id: 'asc' } });
async function claimed() {
  const entry = await createTestEntry(t, event);
  await submit(t, entry);
  const { body } = await claim(t, event, entry.carNumber);
  return { entry, claimId: body.claimId as string, ticketId: body.ticketId as string };
}

/** There is one database, and one place for its backups. */
const NAMES_NOTHING = 'backup.make';

describe('every job', () => {
  test('has a name of its own, tries more than once, and refuses another payload', () => {
    const names = JOBS.map((job) => job.name);
    expect(new Set(names).size).toBe(names.length);
    for (const job of JOBS) {
      expect(job.name).toMatch(/^[a-z-]+\.[a-z-]+$/);
      expect(job.attempts).toBeGreaterThan(1);
      const others = [undefined, { claimId: 'x' }, { entryId: uuidV7(), extra: 1 }];
      for (const payload of job.name === NAMES_NOTHING ? others : [...others, {}]) {
        expect(job.payload.safeParse(payload).success, `${job.name} ${JSON.stringify(payload)}`).toBe(false);
      }
    }
  });

  test('that an action orders is one that exists, and its payload fits', async () => {
    const rows = await sql<{ name: string; payload: unknown }>(
      t,
      'SELECT DISTINCT ON (name) name, payload FROM outbox',
    );
    for (const { name, payload } of rows) {
      const job = JOBS.find((candidate) => candidate.name === name);
      expect(job?.payload.safeParse(payload).success, name).toBe(true);
    }
  });

  test('about something that does not exist does nothing', async () => {
    const id = uuidV7();
    const before = await sql<{ n: number }>(t, 'SELECT count(*)::int AS n FROM history');
    await run('inspection.notify', { inspectionId: id });
    await run('sign-off.notify', { signOffId: id });
    await run('claim.expire', { claimId: id });
    await run('condition.fall-due', { conditionId: id });
    await run('clearance.expire', { signOffId: id });
    expect(await sql(t, 'SELECT count(*)::int AS n FROM history')).toEqual(before);
    expect(await t.deps.db.prisma.notification.count()).toBe(0);
  });
});

describe('claim.expire', () => {
  test('puts the ticket back once, however often it runs', async () => {
    const { entry, claimId, ticketId } = await claimed();
    await runOut(claimId);
    await Promise.all(Array.from({ length: 5 }, () => run('claim.expire', { claimId })));
    await run('claim.expire', { claimId });
    expect(await t.deps.db.prisma.claim.findUnique({ where: { id: claimId } })).toMatchObject({ endReason: 'expired' });
    expect(await t.deps.db.prisma.ticket.findUnique({ where: { id: ticketId } })).toMatchObject({ state: 'waiting' });
    const rows = (await historyOf(t, entry.entryId)).filter((row) => row.action === 'claim.expired');
    expect(rows).toMatchObject([
      { actorRole: 'clock', actorName: 'clock', requestId: 'request-1', data: { claimId, ticketId } },
    ]);
  });

  test('leaves a claim that was renewed', async () => {
    const { entry, claimId } = await claimed();
    await runOut(claimId);
    await t.api('inspector').post(`/v1/claims/${claimId}/renew`).expect(200);
    await run('claim.expire', { claimId });
    expect(await t.deps.db.prisma.claim.findUnique({ where: { id: claimId } })).toMatchObject({ endedAt: null });
    expect(await actionsOf(t, entry.entryId)).not.toContain('claim.expired');
    expect((await signOff(t, claimId, { decision: 'accept', stickerNumber: 'J1' })).status).toBe(201);
  });

  test('leaves the claim of whoever took the car over', async () => {
    const { entry, claimId, ticketId } = await claimed();
    await runOut(claimId);
    const second = await claim(t, event, entry.carNumber, 'chief');
    await run('claim.expire', { claimId });
    await run('claim.expire', { claimId: second.body.claimId });
    expect(await t.deps.db.prisma.ticket.findUnique({ where: { id: ticketId } })).toMatchObject({ state: 'claimed' });
    expect(await t.deps.db.prisma.claim.findUnique({ where: { id: second.body.claimId } })).toMatchObject({
      endedAt: null,
    });
  });

  test('and a sign-off at the same moment: one of the two, never both', async () => {
    for (let round = 0; round < 5; round += 1) {
      const { entry, claimId } = await claimed();
      await sql(t, 'UPDATE claims SET expires_at = now() WHERE id = $1', [claimId]);
      const [signed] = await Promise.all([
        signOff(t, claimId, { decision: 'accept', stickerNumber: `R${round}` }),
        run('claim.expire', { claimId }),
      ]);
      const { endReason } = await t.deps.db.prisma.claim.findUniqueOrThrow({ where: { id: claimId } });
      expect([signed.status, endReason]).toEqual(signed.status === 201 ? [201, 'signed-off'] : [409, 'expired']);
      expect((await factsOf(t, entry.entryId)).signOff === undefined).toBe(signed.status !== 201);
    }
  });
});

describe('condition.fall-due', () => {
  const DUE = '2026-06-13T10:00:00.000Z';
  async function conditional() {
    const entry = await createTestEntry(t, event);
    const { body } = await accept(t, event, entry, {
      decision: 'accept-with-conditions',
      conditions: [{ text: 'torque', dueAt: DUE }],
    });
    return { entry, conditionId: body.conditions[0].id as string };
  }

  test('notes it and tells the entrant, once', async () => {
    const { entry, conditionId } = await conditional();
    t.clock.set(DUE);
    await Promise.all(Array.from({ length: 5 }, () => run('condition.fall-due', { conditionId })));
    await run('condition.fall-due', { conditionId });
    expect((await actionsOf(t, entry.entryId)).filter((action) => action === 'condition.fell-due')).toHaveLength(1);
    expect(await notes(entry.entryId)).toMatchObject([
      { kind: 'condition.fell-due', transport: 'log', sentAt: new Date(DUE) },
    ]);
  });

  test('does nothing too early, after it is done, or once the sign-off no longer counts', async () => {
    const [early, done, voided] = [await conditional(), await conditional(), await conditional()];
    await run('condition.fall-due', { conditionId: early.conditionId });
    await t.api('inspector').post(`/v1/entries/${done.entry.entryId}/conditions/${done.conditionId}/done`).expect(200);
    await submit(t, voided.entry);
    t.clock.set(DUE);
    for (const { conditionId } of [done, voided]) await run('condition.fall-due', { conditionId });
    for (const { entry } of [early, done, voided]) {
      expect(await actionsOf(t, entry.entryId)).not.toContain('condition.fell-due');
      expect(await notes(entry.entryId)).toEqual([]);
    }
  });

  test('is not needed for the gate to say no', async () => {
    const { entry } = await conditional();
    t.clock.set(DUE);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'held' });
  });
});

describe('clearance.expire', () => {
  const END = '2026-06-14T22:00:00.000Z';

  test('notes the end once, and neither early nor for a decision that was replaced', async () => {
    const entry = await createTestEntry(t, event);
    const { signOffId } = (await accept(t, event, entry)).body;
    await run('clearance.expire', { signOffId });
    expect(await actionsOf(t, entry.entryId)).not.toContain('clearance.expired');
    const replaced = await createTestEntry(t, event);
    const old = (await accept(t, event, replaced)).body;
    await accept(t, event, replaced, { stickerNumber: 'again' });
    t.clock.set(END);
    await Promise.all([1, 2, 3].map(() => run('clearance.expire', { signOffId })));
    await run('clearance.expire', { signOffId: old.signOffId });
    const count = async (entryId: string) =>
      (await actionsOf(t, entryId)).filter((action) => action === 'clearance.expired').length;
    expect(await count(entry.entryId)).toBe(1);
    expect(await count(replaced.entryId)).toBe(0);
  });
});

describe('messages', () => {
  test('about a submission and a sign-off are told once each', async () => {
    const entry = await createTestEntry(t, event);
    const submitted = await submit(t, entry);
    const claimedBy = await claim(t, event, entry.carNumber);
    const signed = await signOff(t, claimedBy.body.claimId, { decision: 'refuse', note: 'no' });
    for (const answer of [submitted, signed]) {
      for (const { name, payload } of await ordered(t, answer)) {
        await Promise.all([run(name, payload), run(name, payload)]);
        await run(name, payload);
      }
    }
    expect((await notes(entry.entryId)).map((note) => [note.kind, note.dedupeKey])).toEqual([
      ['inspection.submitted', `inspection.submitted/${submitted.body.inspectionId}`],
      ['entry.signed-off', `entry.signed-off/${signed.body.signOffId}`],
    ]);
  });

  test('about a hold, a lift, a concession and a voided declaration are ordered and told once', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    const api = t.api('chief');
    const held = await api.post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'leak' });
    const lifted = await api.post(`/v1/holds/${held.body.holdId}/lift`).send({ reason: 'ok' });
    const grant = { ruleId: 'fluid-age', reason: 'x', expiresAt: '2026-06-13T12:00:00Z' };
    const granted = await api.post(`/v1/entries/${entry.entryId}/concessions`).send(grant);
    const url = `/v1/entries/${entry.entryId}`;
    const moved = await t.api('organizer').patch(url).set('if-match', '*').send({ runGroupId: event.advanced });
    for (const answer of [held, lifted, granted, moved]) {
      const jobs = await ordered(t, answer);
      expect(jobs).toHaveLength(1);
      for (const { name, payload } of [...jobs, ...jobs]) await run(name, payload);
    }
    expect((await notes(entry.entryId)).map((note) => note.kind)).toEqual([
      'hold.placed',
      'hold.lifted',
      'concession.granted',
      'declaration.voided',
    ]);
  });

  test('hold ids only: nobody’s name, address or answers', async () => {
    const rows = await sql<{ payload: unknown }>(t, 'SELECT payload FROM outbox');
    expect(rows.length).toBeGreaterThan(10);
    for (const { payload } of rows) {
      for (const value of Object.values(payload as object)) expect(value).toMatch(/^([0-9a-f-]{36}|[a-z-]+\.[a-z-]+)$/);
    }
  });
});
