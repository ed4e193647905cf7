import { randomUUID } from 'node:crypto';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, type TestEntry, type TestEvent } from '../support/event.ts';
import { sealedSize } from '../support/sealed.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const BEFORE = '2026-06-13T08:00:00.000Z';
const HELD_AT = '2026-06-13T08:30:00.000Z';
const PASSED_AT = '2026-06-13T08:41:00.000Z';
const UPLOADED_AT = '2026-06-13T09:00:00.000Z';

let t: TestApp;
let event: TestEvent;
let car: TestEntry;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

/** An event with one car that was accepted, and held at half past. */
async function heldCar(): Promise<void> {
  event = await createTestEvent(t);
  car = await createTestEntry(t, event);
  await accept(t, event, car);
  t.clock.set(HELD_AT);
  await t.api('inspector').post(`/v1/entries/${car.entryId}/holds`).send({ reason: 'contact' }).expect(201);
  t.clock.set(UPLOADED_AT);
}

const check = (over: Record<string, unknown> = {}) => ({
  clientId: randomUUID(),
  carNumber: car.carNumber,
  askedAt: PASSED_AT,
  admit: true,
  status: 'clear',
  snapshotSeq: 1,
  ...over,
});
const upload = (checks: unknown, as: Parameters<TestApp['api']>[0] = 'marshal', eventId = event.eventId) =>
  t.api(as).post(`/v1/events/${eventId}/gate/checks`).send({ checks });
const contradictions = (query = '', as: Parameters<TestApp['api']>[0] = 'chief') =>
  t.api(as).get(`/v1/events/${event.eventId}/gate/contradictions${query}`);
const rows = () => t.deps.db.prisma.gateCheck.findMany({ where: { eventId: event.eventId }, orderBy: { id: 'asc' } });

describe('uploading', () => {
  test('keeps what was answered, by whom and when; again and again is the same as once', async () => {
    await heldCar();
    const tablet = await t.mint('marshal', { holder: 'Gate tablet 2' });
    const log = [
      check({ askedAt: '2026-06-13T10:15:00.000+02:00', runGroupId: event.novice }),
      check(),
      check({ carNumber: 'Q', admit: false, status: 'unknown' }),
      check({ admit: false, status: 'cannot-tell' }),
    ];
    const answers = [];
    for (let round = 0; round < 3; round += 1) answers.push((await upload(log, tablet).expect(200)).body);
    const again = { new: 0, known: 4, contradictions: 0 };
    expect(answers).toEqual([{ new: 4, known: 0, contradictions: 1 }, again, again]);
    const kept = await rows();
    expect(kept).toHaveLength(4);
    expect(kept.find(({ clientId }) => clientId === log[0]?.clientId)).toMatchObject({
      carNumber: car.carNumber,
      runGroupId: event.novice,
      admit: true,
      status: 'clear',
      askedBy: tablet.tokenId,
      askedName: 'Gate tablet 2',
      askedAt: new Date('2026-06-13T08:15:00.000Z'),
      uploadedAt: new Date(UPLOADED_AT),
      snapshotSeq: 1,
      contradicts: null,
    });
  });

  test('one check sent with another content stays as it was first', async () => {
    await heldCar();
    const first = check({ askedAt: BEFORE });
    await upload([first]).expect(200);
    const second = await upload([{ ...first, askedAt: PASSED_AT }, check({ askedAt: BEFORE })]);
    expect(second.body).toEqual({ new: 1, known: 1, contradictions: 0 });
    expect((await rows()).map(({ askedAt }) => askedAt)).toEqual([new Date(BEFORE), new Date(BEFORE)]);
  });

  test('one check twice in one upload is one', async () => {
    await heldCar();
    const one = check();
    expect((await upload([one, one])).body).toEqual({ new: 1, known: 1, contradictions: 1 });
    expect(await rows()).toHaveLength(1);
  });

  test('by two devices at once, in opposite orders, keeps each once', async () => {
    await heldCar();
    const log = Array.from({ length: 50 }, () => check({ askedAt: BEFORE }));
    const both = await Promise.all([upload(log), upload(log.toReversed(), 'inspector')]);
    expect(both.map((answer) => answer.status)).toEqual([200, 200]);
    expect(both[0].body.new + both[1].body.new).toBe(50);
    expect(await rows()).toHaveLength(50);
  });

  test('a thousand at once is possible, one more is not', async () => {
    await heldCar();
    const log = Array.from({ length: 1000 }, () => check({ runGroupId: event.novice, askedAt: BEFORE }));
    expect((await upload(log)).body).toEqual({ new: 1000, known: 0, contradictions: 0 });
    const tooMany = await upload([...log, check()]);
    expect(tooMany.status).toBe(400);
    expect(tooMany.body.errors[0]).toMatchObject({ pointer: '/checks' });
  });

  test('one malformed check refuses all, and its place is named', async () => {
    await heldCar();
    const faults: [string, Record<string, unknown>][] = [
      ['/checks/1/clientId', { clientId: 'x' }],
      ['/checks/1/askedAt', { askedAt: 'yesterday' }],
      ['/checks/1/carNumber', { carNumber: '' }],
      ['/checks/1/status', { status: 'fine' }],
      ['/checks/1/snapshotSeq', { snapshotSeq: -1 }],
      ['/checks/1/admit', { admit: true, status: 'held' }],
      ['/checks/1/admit', { admit: false, status: 'clear' }],
      ['/checks/1/note', { note: 'x' }],
    ];
    for (const [pointer, over] of faults) {
      const answer = await upload([check(), check(over)]);
      expect(answer.status, pointer).toBe(400);
      expect(answer.body.errors.map((fault: { pointer: string }) => fault.pointer)).toContain(pointer);
    }
    expect((await upload([])).status).toBe(400);
    expect(await rows()).toEqual([]);
  });

  test('is for the staff, and for an event that there is', async () => {
    await heldCar();
    expect((await upload([check()], car.entrant)).status).toBe(403);
    const nobody = t.api(undefined).post(`/v1/events/${event.eventId}/gate/checks`);
    expect((await nobody.send({ checks: [check()] })).status).toBe(401);
    expect((await upload([check()], 'marshal', UNKNOWN)).status).toBe(404);
    expect(await rows()).toEqual([]);
  });
});

describe('contradictions', () => {
  test('are the passes after a hold, with both times', async () => {
    await heldCar();
    const pass = check();
    await upload([pass, check({ askedAt: BEFORE }), check({ admit: false, status: 'held' })]).expect(200);
    const { body } = await contradictions().expect(200);
    expect(body.contradictions).toEqual([
      {
        clientId: pass.clientId,
        carNumber: car.carNumber,
        askedAt: PASSED_AT,
        askedBy: 'Test marshal',
        admit: true,
        status: 'clear',
        snapshotSeq: 1,
        uploadedAt: UPLOADED_AT,
        contradicts: `Admitted at ${PASSED_AT}, but held since ${HELD_AT}: Held: contact.`,
      },
    ]);
  });

  test('a hold that was lifted before the upload still stood at the time of the pass', async () => {
    await heldCar();
    const held = await t.deps.db.prisma.hold.findFirstOrThrow({ where: { entryId: car.entryId } });
    await t.api('chief').post(`/v1/holds/${held.id}/lift`).send({ reason: 'wiped' }).expect(200);
    await upload([check(), check({ askedAt: UPLOADED_AT })]).expect(200);
    const { body } = await contradictions();
    expect(body.contradictions.map((one: { askedAt: string }) => one.askedAt)).toEqual([PASSED_AT]);
  });

  test('a clock that cannot be right is marked, and nothing is refused for it', async () => {
    await heldCar();
    const head = { seq: await sealedSize(t, event) };
    const log = [
      check({ askedAt: '2026-06-13T09:05:00.001Z', admit: false, status: 'held' }),
      check({ askedAt: '2026-06-13T09:05:00.000Z', admit: false, status: 'held' }),
      check({ askedAt: '1970-01-01T00:00:00Z', admit: false, status: 'held' }),
      // The last row is the hold.
      check({ askedAt: BEFORE, snapshotSeq: head.seq }),
      check({ askedAt: BEFORE, snapshotSeq: head.seq + 1 }),
    ];
    expect((await upload(log)).body).toEqual({ new: 5, known: 0, contradictions: 4 });
    const { body } = await contradictions();
    const marked = new Map<string, string>(
      body.contradictions.map((one: { clientId: string; contradicts: string }) => [one.clientId, one.contradicts]),
    );
    expect(log.map(({ clientId }) => marked.get(clientId))).toEqual([
      expect.stringContaining('uploaded at'),
      undefined,
      expect.stringContaining('its list is of'),
      expect.stringContaining(`its list is of ${HELD_AT} or later`),
      expect.stringContaining(`but the history has ${head.seq} rows`),
    ]);
  });

  test('are cut into pages, of this event only', async () => {
    await heldCar();
    await upload(Array.from({ length: 5 }, () => check()));
    const seen: string[] = [];
    let next: string | undefined;
    do {
      const page = await contradictions(`?limit=2${next === undefined ? '' : `&cursor=${next}`}`).expect(200);
      seen.push(...page.body.contradictions.map((one: { clientId: string }) => one.clientId));
      next = page.body.next;
    } while (next !== undefined);
    expect(new Set(seen).size).toBe(5);
    expect(seen).toHaveLength(5);
    await heldCar();
    expect((await contradictions()).body).toEqual({ contradictions: [] });
  });

  test('are for organizers and chiefs, of an event that there is', async () => {
    await heldCar();
    expect((await contradictions('', 'organizer')).status).toBe(200);
    for (const role of ['inspector', 'marshal'] as const) expect((await contradictions('', role)).status).toBe(403);
    expect((await t.api('chief').get(`/v1/events/${UNKNOWN}/gate/contradictions`)).status).toBe(404);
  });
});
