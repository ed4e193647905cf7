import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp, type TestToken } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  signOff,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { actionsOf, factsOf, historyOf, ordered, sql } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;
let sticker = 1000;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const ACCEPT = () => ({ decision: 'accept', stickerNumber: String(sticker++) });
/** A car on the line, claimed. */
async function atLine(
  answers: unknown = GOOD_ANSWERS,
  entryFields: Record<string, unknown> = {},
  as: 'inspector' | TestToken = 'inspector',
) {
  const entry = await createTestEntry(t, event, entryFields);
  expect((await submit(t, entry, answers)).status).toBe(201);
  const claimed = await claim(t, event, entry.carNumber, as);
  expect(claimed.status, JSON.stringify(claimed.body)).toBe(201);
  return { entry, claimId: claimed.body.claimId as string, ticketId: claimed.body.ticketId as string };
}
const decisions = (entry: TestEntry) => t.deps.db.prisma.signOff.count({ where: { entryId: entry.entryId } });
const pads = (value: number, position = 'FL.in') => ({ item: 'pad.thickness', position, value });

describe('accepting', () => {
  test('writes decision, clearance, history and jobs together, and the gate follows at once', async () => {
    const { entry, claimId, ticketId } = await atLine();
    const answer = await signOff(t, claimId, {
      ...ACCEPT(),
      note: 'fine',
      checks: [pads(8), { item: 'brake.pedal', result: 'ok' }],
    });
    expect(answer.status, JSON.stringify(answer.body)).toBe(201);
    expect(answer.body).toMatchObject({
      entryId: entry.entryId,
      carNumber: entry.carNumber,
      decision: 'accept',
      verdict: 'clean',
      validFrom: '2026-06-12T22:00:00.000Z',
      validUntil: '2026-06-14T22:00:00.000Z',
      conditions: [],
      note: 'fine',
      signedBy: 'Test inspector',
      signedAt: TEST_NOW,
      clearance: { admit: false, status: 'expired' },
    });
    const row = await t.deps.db.prisma.signOff.findUniqueOrThrow({ where: { id: answer.body.signOffId } });
    expect(row).toMatchObject({ claimId, decision: 'accept', verdict: 'clean', signedName: 'Test inspector' });
    expect(row.checks).toEqual([pads(8), { item: 'brake.pedal', result: 'ok' }]);
    expect(await t.deps.db.prisma.ticket.findUnique({ where: { id: ticketId } })).toMatchObject({ state: 'done' });
    expect(await t.deps.db.prisma.claim.findUnique({ where: { id: claimId } })).toMatchObject({
      endReason: 'signed-off',
    });
    expect((await historyOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'entry.signed-off',
      data: { claimId, verdict: 'clean' },
    });
    expect(await ordered(t, answer)).toEqual([
      { name: 'sign-off.notify', payload: { signOffId: row.id }, runAt: undefined },
      { name: 'clearance.expire', payload: { signOffId: row.id }, runAt: '2026-06-14T22:00:00.000Z' },
    ]);
    t.clock.set('2026-06-12T21:59:59.999Z');
    expect((await gate(t, event, entry.carNumber)).admit).toBe(false);
    t.clock.set('2026-06-12T22:00:00.000Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: true, status: 'clear' });
  });

  test('is immutable, also in the database', async () => {
    const { claimId } = await atLine();
    const { body } = await signOff(t, claimId, ACCEPT());
    await expect(sql(t, `UPDATE sign_offs SET decision = 'refuse' WHERE id = $1`, [body.signOffId])).rejects.toThrow(
      /append-only/,
    );
    await expect(sql(t, 'DELETE FROM sign_offs WHERE id = $1', [body.signOffId])).rejects.toThrow(/append-only/);
  });

  test('may end earlier than the event, but not later and not in the past', async () => {
    const { entry, claimId } = await atLine();
    for (const validUntil of ['2026-06-14T22:00:00.001Z', TEST_NOW, '2026-06-01T00:00:00Z']) {
      const answer = await signOff(t, claimId, { ...ACCEPT(), validUntil });
      expect(answer.status).toBe(422);
      expect(answer.body.errors[0].pointer).toBe('/validUntil');
    }
    expect(await decisions(entry)).toBe(0);
    const answer = await signOff(t, claimId, { ...ACCEPT(), validUntil: '2026-06-13T18:00:00+02:00' });
    expect(answer.body.validUntil).toBe('2026-06-13T16:00:00.000Z');
    t.clock.set('2026-06-13T16:00:00.000Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'expired' });
  });
});

describe('what the inspector measures', () => {
  test('wins over a good declaration: accepting is refused while the bar stands', async () => {
    const { entry, claimId } = await atLine();
    const answer = await signOff(t, claimId, { ...ACCEPT(), checks: [pads(3.9)] });
    expect(answer.status).toBe(409);
    expect(answer.body).toMatchObject({
      code: 'bar-stands',
      currentState: 'barred',
      standing: [{ ruleId: 'pad-thickness', position: 'FL.in', message: 'The pad is too thin to last the event.' }],
    });
    expect(await decisions(entry)).toBe(0);
    expect((await factsOf(t, entry.entryId)).signOff).toBeUndefined();
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ status: 'in-line' });
    // Exactly on the limit is inside it.
    const fixed = await signOff(t, claimId, { ...ACCEPT(), checks: [pads(3.9), pads(4)] });
    expect(fixed.status).toBe(201);
    const finding = fixed.body.findings.find((one: { position?: string }) => one.position === 'FL.in');
    expect(finding).toMatchObject({
      result: 'met',
      source: 'measured',
      measured: { value: 4, unit: 'mm' },
      margin: { value: 0 },
    });
  });

  test('keeps what it was read with, whatever becomes of the list of instruments', async () => {
    const own = await createTestEvent(t);
    const gauge = { name: 'Calliper 2', reads: 'pads', uncertainty: 0.1, unit: 'mm', source: 'Certificate 41' };
    const organizer = t.api('organizer');
    const { etag } = (await organizer.get(`/v1/events/${own.eventId}`)).headers;
    const changed = await organizer
      .patch(`/v1/events/${own.eventId}`)
      .set('if-match', etag ?? '')
      .send({ instruments: [gauge] });
    expect(changed.body.instruments, JSON.stringify(changed.body)).toEqual([gauge]);
    const entry = await createTestEntry(t, own, {});
    const { body: submitted } = await submit(t, entry, GOOD_ANSWERS);
    const claimed = await claim(t, own, entry.carNumber);
    expect(claimed.body.instruments).toEqual([gauge]);
    const point = claimed.body.pointsToCheck.find((one: { position?: string }) => one.position === 'FL.in');
    expect(point.limits).toContainEqual(expect.objectContaining({ unit: 'mm', atLeast: 4 }));
    const decide = (checks: unknown[]) => signOff(t, claimed.body.claimId, { ...ACCEPT(), checks });
    const refused = await decide([
      { ...pads(8), readWith: { name: 'Calliper 9' } },
      { item: 'brake.pedal', result: 'ok', readWith: { name: 'Foot', uncertainty: 1, unit: 'N·m' } },
    ]);
    expect(refused.status).toBe(422);
    expect(refused.body.errors).toMatchObject([{ pointer: '/checks/0/readWith/name', code: 'unknown-option' }]);
    const signed = await decide([
      { ...pads(8), readWith: { name: 'calliper 2' } },
      { ...pads(8, 'FR.in'), readWith: { name: 'My own', uncertainty: 0.05, unit: 'mm' } },
    ]);
    expect(signed.status, JSON.stringify(signed.body)).toBe(201);
    await organizer
      .patch(`/v1/events/${own.eventId}`)
      .set('if-match', changed.headers['etag'] ?? '')
      .send({ instruments: [] });
    const record = await organizer.get(`/v1/entries/${entry.entryId}/record`);
    expect(record.body.signOffs[0].checks).toMatchObject([
      { readWith: { name: 'Calliper 2', uncertainty: 0.1, unit: 'mm', by: 'event' } },
      { readWith: { name: 'My own', uncertainty: 0.05, unit: 'mm', by: 'inspector' } },
    ]);
    const told = await organizer.get(`/v1/inspections/${submitted.inspectionId}/findings/pad-thickness`);
    const at = (position: string) =>
      told.body.atLine.positions.find((one: { position: string }) => one.position === position);
    expect(told.body.atLine.judgedAgain).toBe('same');
    expect(at('FL.in').certainty).toMatchObject({
      instrument: 'Calliper 2',
      uncertainty: 0.1,
      by: 'event',
      conformity: 1,
    });
    expect(at('FR.in').certainty).toMatchObject({ instrument: 'My own', uncertainty: 0.05, by: 'inspector' });
    expect(at('RL.in').certainty).toMatchObject({ by: 'usual', uncertainty: 0.6 });
  });

  test('wins over a bad declaration too', async () => {
    const { claimId } = await atLine({ ...GOOD_ANSWERS, 'radiator.debris': 'blocked' });
    const open = await signOff(t, claimId, ACCEPT());
    expect(open.body.code).toBe('points-not-checked');
    const answer = await signOff(t, claimId, { ...ACCEPT(), checks: [{ item: 'radiator.debris', value: 'clear' }] });
    expect(answer.body).toMatchObject({ decision: 'accept', verdict: 'clean' });
  });

  test('with a unit is converted, and faults are named at their check', async () => {
    const { entry, claimId } = await atLine();
    const answer = await signOff(t, claimId, {
      ...ACCEPT(),
      checks: [
        { item: 'no.such', value: 1 },
        pads(8, 'XX'),
        { item: 'pad.thickness', value: 8 },
        { item: 'brake.pedal', position: 'FL', result: 'ok' },
        { item: 'pad.thickness', position: 'FL.in', value: { value: 8, unit: 'N·m' } },
        { item: 'brake.pedal', value: 'soft' },
        { item: 'brake.pedal', value: null },
        { item: 'harness.webbing', result: 'ok' },
      ],
    });
    expect(answer.status).toBe(422);
    const pointers = answer.body.errors.map((fault: { pointer: string }) => fault.pointer);
    expect(pointers).toEqual([
      '/checks/0/item',
      '/checks/1/position',
      '/checks/2/position',
      '/checks/3/position',
      '/checks/4/value/unit',
      '/checks/5/value',
      '/checks/6/value',
      '/checks/7/item',
    ]);
    expect(await decisions(entry)).toBe(0);
    const inch = { item: 'pad.thickness', position: 'FL.in', value: { value: 4, unit: '1/32in' } };
    // 4/32 in = 3.175 mm (NIST SP 811): below 4 mm.
    expect((await signOff(t, claimId, { ...ACCEPT(), checks: [inch] })).body.code).toBe('bar-stands');
  });

  test('not ok by eye makes the rule not met, whatever was declared', async () => {
    const { claimId } = await atLine();
    const wheel = { item: 'pad.thickness', position: 'RR', result: 'not-ok' };
    const answer = await signOff(t, claimId, { ...ACCEPT(), checks: [wheel] });
    expect(answer.status).toBe(409);
    expect(answer.body.code).toBe('bar-stands');
    expect(answer.body.standing.map((one: { position: string }) => one.position).sort()).toEqual(['RR.in', 'RR.out']);
  });
});

describe('points to check', () => {
  const some = { ...GOOD_ANSWERS, 'radiator.debris': 'some' };

  test('must be looked at to accept: nothing, another item and "not answered" do not do', async () => {
    const { entry, claimId } = await atLine(some);
    for (const checks of [[], [{ item: 'brake.pedal', result: 'ok' }]]) {
      const answer = await signOff(t, claimId, { ...ACCEPT(), checks });
      expect(answer.status).toBe(409);
      expect(answer.body).toMatchObject({ code: 'points-not-checked', standing: [{ ruleId: 'radiator-clear' }] });
    }
    for (const value of [null]) {
      const answer = await signOff(t, claimId, { ...ACCEPT(), checks: [{ item: 'radiator.debris', value }] });
      expect(answer.status).toBe(422);
      expect(answer.body.errors[0].pointer).toBe('/checks/0/value');
    }
    expect(await decisions(entry)).toBe(0);
    expect(
      (await signOff(t, claimId, { ...ACCEPT(), checks: [{ item: 'radiator.debris', result: 'ok' }] })).status,
    ).toBe(201);
  });

  test('not ok is carried by conditions, and by nothing less', async () => {
    const { claimId } = await atLine(some);
    const checks = [{ item: 'radiator.debris', result: 'not-ok' }];
    expect((await signOff(t, claimId, { ...ACCEPT(), checks })).body.code).toBe('points-not-checked');
    const conditions = [{ text: 'clean the radiator before session 1' }];
    const answer = await signOff(t, claimId, { ...ACCEPT(), decision: 'accept-with-conditions', checks, conditions });
    expect(answer.body).toMatchObject({ decision: 'accept-with-conditions', verdict: 'to-inspect' });
  });

  test.each([
    ['neither value nor result', { item: 'brake.pedal' }],
    ['both', { item: 'brake.pedal', value: 'firm', result: 'ok' }],
    ['an unknown key', { item: 'brake.pedal', result: 'ok', by: 'me' }],
  ])('a check with %s is malformed', async (_what, check) => {
    const { claimId } = await atLine();
    expect((await signOff(t, claimId, { ...ACCEPT(), checks: [check] })).status).toBe(400);
  });
});

describe('conditions', () => {
  test('are kept, timed, listed at the gate and hold the car when past due', async () => {
    const { entry, claimId } = await atLine();
    const conditions = [
      { text: 'wheel torque again after session 1', dueAt: '2026-06-13T12:00:00+02:00' },
      { text: 'mirror tape' },
    ];
    const answer = await signOff(t, claimId, { ...ACCEPT(), decision: 'accept-with-conditions', conditions });
    expect(answer.status).toBe(201);
    const [timed, untimed] = answer.body.conditions;
    expect(timed).toEqual({ id: expect.any(String), text: conditions[0]?.text, dueAt: '2026-06-13T10:00:00.000Z' });
    expect(untimed).toEqual({ id: expect.any(String), text: 'mirror tape' });
    const jobs = await ordered(t, answer);
    expect(jobs).toContainEqual({ name: 'condition.fall-due', payload: { conditionId: timed.id }, runAt: timed.dueAt });
    expect(jobs.filter((job) => job.name === 'condition.fall-due')).toHaveLength(1);
    t.clock.set('2026-06-13T09:59:59.999Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({
      admit: true,
      status: 'clear-with-conditions',
      validUntil: timed.dueAt,
    });
    t.clock.set('2026-06-13T10:00:00.000Z');
    const held = await gate(t, event, entry.carNumber);
    expect(held).toMatchObject({ admit: false, status: 'held' });
    expect(held.reason).toContain('wheel torque again');
  });

  test('are refused when they are due already, instead of holding the car at once', async () => {
    const { entry, claimId } = await atLine();
    const conditions = [{ text: 'tape' }, { text: 'torque', dueAt: t.clock.now().toISOString() }];
    const answer = await signOff(t, claimId, { ...ACCEPT(), decision: 'accept-with-conditions', conditions });
    expect(answer.status).toBe(422);
    expect(answer.body).toMatchObject({ code: 'not-acceptable', errors: [{ pointer: '/conditions/1/dueAt' }] });
    // The event ends with 14 June at the venue, two hours ahead of UTC.
    const late = [{ text: 'torque', dueAt: '2026-06-14T22:00:00Z' }];
    const after = await signOff(t, claimId, { ...ACCEPT(), decision: 'accept-with-conditions', conditions: late });
    expect(after.status).toBe(422);
    expect(after.body.errors).toMatchObject([{ pointer: '/conditions/0/dueAt', code: 'out-of-range' }]);
    expect(await decisions(entry)).toBe(0);
  });

  test.each([
    ['accept-with-conditions without any', { decision: 'accept-with-conditions' }, '/conditions'],
    ['a plain accept with some', { decision: 'accept', conditions: [{ text: 'x' }] }, '/conditions'],
    ['an accept without a sticker', { decision: 'accept', stickerNumber: undefined }, '/stickerNumber'],
    ['a refusal without a note', { decision: 'refuse', stickerNumber: undefined }, '/note'],
    ['a refusal with a sticker', { decision: 'refuse', note: 'x' }, '/stickerNumber'],
    [
      'a refusal with an end',
      { decision: 'refuse', stickerNumber: undefined, note: 'x', validUntil: '2026-06-14T00:00:00Z' },
      '/validUntil',
    ],
    [
      'a due time that is none',
      { decision: 'accept-with-conditions', conditions: [{ text: 'x', dueAt: 'noon' }] },
      '/conditions/0/dueAt',
    ],
    [
      'a due time in the year 0',
      { decision: 'accept-with-conditions', conditions: [{ text: 'x', dueAt: '0000-01-01T00:00:00Z' }] },
      '/conditions/0/dueAt',
    ],
    ['an end in the year 10000', { decision: 'accept', validUntil: '9999-12-31T23:59:59-14:00' }, '/validUntil'],
    ['an unknown decision', { decision: 'maybe' }, '/decision'],
    ['a sticker with a space', { decision: 'accept', stickerNumber: '1 2' }, '/stickerNumber'],
  ])('%s is malformed', async (_what, body, pointer) => {
    const { entry, claimId } = await atLine();
    const answer = await signOff(t, claimId, { stickerNumber: String(sticker++), ...body });
    expect(answer.status, JSON.stringify(answer.body)).toBe(400);
    expect(answer.body.errors.map((fault: { pointer: string }) => fault.pointer)).toContain(pointer);
    expect(await decisions(entry)).toBe(0);
  });
});

describe('refusing', () => {
  test('needs no checks, gives the driver the note, and takes the car off the line', async () => {
    const { entry, claimId } = await atLine();
    const answer = await signOff(t, claimId, { decision: 'refuse', note: 'play in the left front ball joint' });
    expect(answer.status).toBe(201);
    expect(answer.body).toMatchObject({ decision: 'refuse', clearance: { admit: false, status: 'refused' } });
    expect(answer.body).not.toHaveProperty('validUntil');
    expect((await ordered(t, answer)).map((job) => job.name)).toEqual(['sign-off.notify']);
    t.clock.set('2026-06-13T08:00:00Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({
      admit: false,
      status: 'refused',
      reason: 'Refused at the tech line: play in the left front ball joint.',
    });
    t.clock.set(TEST_NOW);
    expect((await claim(t, event, entry.carNumber)).body).toMatchObject({
      code: 'state-moved-on',
      currentState: 'refused',
    });
    expect((await submit(t, entry)).body).toMatchObject({ revision: 2, ticket: expect.any(Object) });
  });

  test('is possible while a bar stands', async () => {
    const { entry, claimId } = await atLine();
    const answer = await signOff(t, claimId, { decision: 'refuse', note: 'pads worn', checks: [pads(1)] });
    expect(answer.body).toMatchObject({ verdict: 'barred', clearance: { status: 'refused' } });
    expect(await actionsOf(t, entry.entryId)).toContain('entry.signed-off');
  });
});

describe('stickers', () => {
  test('are used once per event; the decision that was refused can be repeated with another', async () => {
    const [first, second] = [await atLine(), await atLine()];
    const used = ACCEPT();
    expect((await signOff(t, first.claimId, used)).status).toBe(201);
    const taken = await signOff(t, second.claimId, used);
    expect(taken.status).toBe(409);
    expect(taken.body).toMatchObject({ code: 'sticker-taken', errors: [{ pointer: '/stickerNumber' }] });
    expect(await decisions(second.entry)).toBe(0);
    expect((await factsOf(t, second.entry.entryId)).signOff).toBeUndefined();
    expect((await signOff(t, second.claimId, ACCEPT())).status).toBe(201);
    const elsewhere = await createTestEvent(t);
    const entry = await createTestEntry(t, elsewhere);
    await submit(t, entry);
    const { body } = await claim(t, elsewhere, entry.carNumber);
    expect((await signOff(t, body.claimId, used)).status).toBe(201);
  });

  test('that differ by zeros or small letters only are one', async () => {
    const cars = await Promise.all(Array.from({ length: 6 }, () => atLine()));
    const signed = async (place: number, stickerNumber: string) => {
      const { status, body } = await signOff(t, cars[place]?.claimId ?? '', { ...ACCEPT(), stickerNumber });
      return status === 201 ? 'taken' : body.code;
    };
    expect(await signed(0, '6')).toBe('taken');
    expect(await signed(1, '006')).toBe('sticker-taken');
    expect(await signed(1, 'A-007')).toBe('taken');
    expect(await signed(2, 'a-7')).toBe('sticker-taken');
    expect(await signed(2, 'A-70')).toBe('taken');
    expect(await signed(3, '60')).toBe('taken');
    expect(await signed(4, '0')).toBe('taken');
    expect(await signed(5, '000')).toBe('sticker-taken');
  });

  test('of ten cars that want one sticker at once, one gets it', async () => {
    const cars = await Promise.all(Array.from({ length: 10 }, () => atLine()));
    const wanted = ACCEPT();
    const answers = await Promise.all(cars.map(({ claimId }) => signOff(t, claimId, wanted)));
    expect(answers.map((answer) => answer.status).sort()).toEqual([201, ...Array.from({ length: 9 }, () => 409)]);
    expect(
      answers.filter((answer) => answer.status === 409).every((answer) => answer.body.code === 'sticker-taken'),
    ).toBe(true);
  });
});

describe('cars of one’s own', () => {
  test.each([
    ['Asta Lindqvist', 'ASTA  lindqvist', 'driver'],
    ['Per-Erik Moe', 'per erik moe', 'preparer'],
    ['Åsa Dahl', 'A\u030asa Dahl', 'crew'],
    ['Ivan Petrov', '\u0406van Petrov', 'driver'],
    ['MO\u200bE', 'Moe', 'driver'],
  ])('%j cannot sign off a car on which %j is named, even with a claim of before', async (holder, named, role) => {
    const inspector = await t.mint('inspector', { holder });
    const { entry, claimId } = await atLine(GOOD_ANSWERS, {}, inspector);
    const { headers } = await t.api('organizer').get(`/v1/entries/${entry.entryId}`);
    await t
      .api('organizer')
      .patch(`/v1/entries/${entry.entryId}`)
      .set('if-match', headers['etag'] ?? '')
      .send({ people: [{ name: named, role }] })
      .expect(200);
    const answer = await signOff(t, claimId, ACCEPT(), inspector);
    expect(answer.status).toBe(403);
    expect(answer.body.code).toBe('conflict-of-interest');
    expect(await decisions(entry)).toBe(0);
  });

  test('nor one for which he holds an entrant token, or that he entered himself', async () => {
    const inspector = await t.mint('inspector', { holder: 'Ulla Brandt' });
    const { entry, claimId } = await atLine(GOOD_ANSWERS, {}, inspector);
    await t.mint('entrant', { holder: 'ulla brandt', entryId: entry.entryId });
    expect((await signOff(t, claimId, ACCEPT(), inspector)).status).toBe(403);
    const named = await createTestEntry(t, event, { entrant: { name: 'Ulla Brandt' } });
    await submit(t, named);
    expect((await claim(t, event, named.carNumber, inspector)).status).toBe(403);
  });
});

test('a withdrawal, or a change of the car, ends the claim under the inspector’s hands', async () => {
  const [gone, changed] = [await atLine(), await atLine()];
  await t.api('organizer').post(`/v1/entries/${gone.entry.entryId}/withdraw`).expect(200);
  await submit(t, changed.entry);
  for (const { claimId, entry } of [gone, changed]) {
    const answer = await signOff(t, claimId, ACCEPT());
    expect(answer.status).toBe(409);
    expect(answer.body).toMatchObject({ code: 'state-moved-on', currentState: 'void' });
    expect(await decisions(entry)).toBe(0);
  }
});
