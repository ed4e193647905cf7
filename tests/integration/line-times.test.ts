import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { loadConfig } from '../../src/config.ts';
import type { Deps } from '../../src/deps.ts';
import type { JobDefinition } from '../../src/platform/queue/job.ts';
import { followLines } from '../../src/features/line/times/told.ts';
import { mailWriteJob } from '../../src/features/notify/mail/send.job.ts';
import { notifyEntrantJob } from '../../src/records/notify-entrant.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { asText } from '../support/as-text.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  signOff,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { JOB_CONTEXT } from '../support/jobs.ts';
import { sql } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;
let cars: TestEntry[];

beforeAll(async () => {
  t = await startTestApp({ own: true, config: { mail: loadConfig({ MAIL: 'keep' }).mail } });
});
afterAll(() => t.close());
beforeEach(async () => {
  t.clock.set(TEST_NOW);
  event = await createTestEvent(t);
  cars = [];
  for (let at = 0; at < 4; at += 1) {
    // the first ones are of the later group
    const runGroupId = at < 2 ? event.advanced : event.novice;
    const entrant = { name: `Driver ${at}`, email: `driver-${at}@example.org` };
    const car = await createTestEntry(t, event, { runGroupId, entrant });
    await submit(t, car);
    cars.push(car);
  }
});

const PLAN = {
  shifts: [{ from: '2026-06-13T05:00:00Z', to: '2026-06-13T07:30:00Z', inspectors: 2 }],
  minutesPerCar: 10,
};
const path = () => `/v1/events/${event.eventId}/line/plan`;
const office = () => t.api('organizer');
type Told = { at: string; lane?: number };
type Planned = { cars: { entryId: string; carNumber: string; told: Told; was?: Told; missShare: number }[] };
const plan = async (input: object = PLAN) =>
  (await office().put(path()).send(input).expect(200)).body as Planned & Record<string, unknown>;
const lineOf = async () =>
  (await t.api('inspector').get(`/v1/events/${event.eventId}/line`).expect(200)).body.tickets as {
    carNumber: string;
    told?: Told;
    notHereAt?: string;
  }[];
const toldOf = async (car: TestEntry): Promise<Told | undefined> =>
  (await t.api(car.entrant).get(`/v1/entries/${car.entryId}/inspections`).expect(200)).body.inspections[0].ticket.told;
/** Runs what is ordered and not done, as the worker does. */
async function runOpen<P>(job: JobDefinition<Deps, P>): Promise<void> {
  const where = { name: job.name, doneAt: null };
  for (const { id, payload } of await t.deps.db.prisma.outbox.findMany({ where })) {
    await job.handle(t.deps, job.payload.parse(payload), JOB_CONTEXT);
    await t.deps.db.prisma.outbox.update({ where: { id }, data: { doneAt: new Date() } });
  }
}
const mailsOf = async (car: TestEntry) => {
  await runOpen(notifyEntrantJob);
  await runOpen(mailWriteJob);
  return sql<{ text: string }>(
    t,
    `SELECT text FROM mails WHERE entry_id = $1::uuid AND kind = 'line-time' ORDER BY id`,
    [car.entryId],
  );
};

describe('a plan for the line', () => {
  test('is tried without a trace: first sessions first, with who would have to be there besides', async () => {
    const { body } = await office().post(`${path()}/preview`).send(PLAN).expect(200);
    expect(
      body.cars
        .map(({ entryId }: { entryId: string }) => entryId)
        .slice(0, 2)
        .toSorted(),
    ).toEqual([cars[2]?.entryId, cars[3]?.entryId].toSorted());
    expect(body).toMatchObject({
      allInTimeShare: 1,
      inspectorsMissing: 0,
      messages: 4,
      minutes: { mean: 10, from: 'said' },
    });
    expect(await sql(t, 'SELECT 1 FROM line_times WHERE event_id = $1::uuid', [event.eventId])).toEqual([]);
    const shifts = [{ from: '2026-06-13T06:20:00Z', to: '2026-06-13T07:30:00Z', inspectors: 1 }];
    const short = { shifts, minutesPerCar: 15 };
    const { body: late } = await office().post(`${path()}/preview`).send(short).expect(200);
    expect(late.allInTimeShare).toBeLessThan(0.95);
    expect(late.inspectorsMissing).toBeGreaterThanOrEqual(1);
    expect(late.opensEarlier).toBeGreaterThanOrEqual(15);
    expect(Math.max(...late.cars.map(({ missShare }: { missShare: number }) => missShare))).toBeGreaterThan(0.05);
  });

  test('says one time everywhere: page, line, calendar, countdown and message', async () => {
    const { cars: planned } = await plan();
    const [car] = cars;
    const told = planned.find(({ entryId }) => entryId === car?.entryId)?.told;
    if (car === undefined || told === undefined) throw new Error('no time');
    expect(await toldOf(car)).toEqual(told);
    expect((await lineOf()).map(({ told: one }) => one?.at)).toEqual(planned.map(({ told: one }) => one.at));
    expect((await lineOf()).find(({ carNumber }) => carNumber === car.carNumber)?.told).toEqual(told);
    const calendar = await t.api(car.entrant).get(`/v1/entries/${car.entryId}/calendar`).buffer(true).parse(asText);
    expect(calendar.body).toContain(`DTSTART:${told.at.replaceAll(/[-:]|\.000/g, '')}`);
    const { body } = await t.api(car.entrant).get(`/v1/entries/${car.entryId}/countdown`);
    const morning = body.stages.flatMap(({ tasks }: { tasks: object[] }) => tasks);
    expect(morning).toContainEqual({ kind: 'to-line', isTold: true, ...told });
    expect(body.dates).toContainEqual({
      what: 'line',
      at: told.at,
      ...(told.lane === undefined ? {} : { name: String(told.lane) }),
    });
    const [mail] = await mailsOf(car);
    const local = new Intl.DateTimeFormat('en-GB', { timeStyle: 'short', timeZone: 'Europe/Berlin' }).format(
      new Date(told.at),
    );
    expect(mail?.text).toContain(local);
    if (told.lane !== undefined) expect(mail?.text).toContain(`lane ${told.lane}`);
  });

  test('made again keeps who would hardly move, and writes to nobody twice', async () => {
    const { cars: first } = await plan();
    const again = await plan({ ...PLAN, minutesPerCar: 11 });
    expect(again.cars.map(({ told }) => told)).toEqual(first.map(({ told }) => told));
    expect(again['messages']).toBe(0);
    const later = { ...PLAN, shifts: [{ ...PLAN.shifts[0], from: '2026-06-13T05:30:00Z' }] };
    const moved = await plan(later);
    expect(moved['messages']).toBe(4);
    expect(moved.cars.every(({ was }) => was !== undefined)).toBe(true);
    for (const car of cars) expect(await mailsOf(car)).toHaveLength(2);
    await plan({ shifts: [] });
    expect((await lineOf()).filter(({ told }) => told !== undefined)).toEqual([]);
  });

  test('is taken back when the event moves to other days', async () => {
    await plan();
    const api = office();
    const { headers } = await api.get(`/v1/events/${event.eventId}`);
    const days = { startsOn: '2026-06-20', endsOn: '2026-06-21' };
    await api
      .patch(`/v1/events/${event.eventId}`)
      .set('if-match', headers['etag'] ?? '')
      .send(days)
      .expect(200);
    expect((await lineOf()).filter(({ told }) => told !== undefined)).toEqual([]);
    expect((await api.get(path())).body.isUsual).toBe(true);
  });

  test('refuses hours that overlap, and names which', async () => {
    const shifts = [PLAN.shifts[0], { from: '2026-06-13T07:00:00Z', to: '2026-06-13T08:00:00Z', inspectors: 1 }];
    const { body } = await office().put(path()).send({ shifts }).expect(422);
    expect(body.errors).toMatchObject([{ pointer: '/shifts/1/from', code: 'shift-order' }]);
  });

  test('without one, usual hours stand there: two hours before the first session', async () => {
    const { body } = await t.api('inspector').get(path()).expect(200);
    expect(body).toMatchObject({
      isUsual: true,
      settings: { shifts: [{ from: '2026-06-13T05:00:00.000Z', inspectors: 2 }] },
    });
  });
});

describe('the line as it goes', () => {
  test('who comes without a time fits in, and is told once', async () => {
    await plan();
    const late = await createTestEntry(t, event, { entrant: { name: 'Late', email: 'late@example.org' } });
    await submit(t, late);
    expect(await toldOf(late)).toBeUndefined();
    await followLines(t.deps);
    const told = await toldOf(late);
    // done before its session at 07:00, and nobody else moved
    expect(told?.at !== undefined && told.at < '2026-06-13T06:51:00.000Z').toBe(true);
    await followLines(t.deps);
    expect(await toldOf(late)).toEqual(told);
    expect(await mailsOf(late)).toHaveLength(1);
    for (const car of cars) expect(await mailsOf(car)).toHaveLength(1);
  });

  test('a line that is behind tells those who are not on their way yet, once', async () => {
    const shifts = [{ from: '2026-06-13T05:00:00Z', to: '2026-06-13T07:30:00Z', inspectors: 1 }];
    const { cars: planned } = await plan({ shifts, minutesPerCar: 20 });
    const last = cars.find(({ entryId }) => entryId === planned.at(-1)?.entryId);
    const before = planned.at(-1)?.told.at ?? '';
    if (last === undefined) throw new Error('no car');
    // nobody was begun when the second should be
    t.clock.set('2026-06-13T05:30:00Z');
    await followLines(t.deps);
    const moved = (await toldOf(last))?.at ?? '';
    expect(Date.parse(moved) - Date.parse(before)).toBeGreaterThanOrEqual(10 * 60_000);
    expect(await mailsOf(last)).toHaveLength(2);
    t.clock.set('2026-06-13T05:45:00Z');
    await followLines(t.deps);
    expect(Date.parse((await toldOf(last))?.at ?? '')).toBeGreaterThan(Date.parse(moved));
    expect(await mailsOf(last)).toHaveLength(2);
  });

  test('who is called and not there lets others go first; a decision takes the time away', async () => {
    const { cars: planned } = await plan();
    const [first, second] = planned;
    const called = await claim(t, event, first?.carNumber ?? '');
    await t.api('inspector').delete(`/v1/claims/${called.body.claimId}?notHere=true`).expect(204);
    const line = await lineOf();
    expect(line.at(-1)).toMatchObject({ carNumber: first?.carNumber, told: first?.told });
    expect(line.at(-1)?.notHereAt).toBeDefined();
    const next = await t.api('inspector').post(`/v1/events/${event.eventId}/line/claims`).send({}).expect(201);
    expect(next.body.carNumber).toBe(second?.carNumber);
    await signOff(t, next.body.claimId, { decision: 'accept', stickerNumber: 'T1' });
    expect(await sql(t, 'SELECT 1 FROM line_times WHERE entry_id = $1::uuid', [second?.entryId])).toEqual([]);
    // it comes after all: taken by its number, and no longer missed
    await claim(t, event, first?.carNumber ?? '');
    expect((await lineOf()).find(({ carNumber }) => carNumber === first?.carNumber)?.notHereAt).toBeUndefined();
  });
});
