import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, claim, createTestEntry, createTestEvent, gate, signOff, submit } from '../support/event.ts';
import type { TestEntry, TestEvent } from '../support/event.ts';
import { historyOf } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;
const IN_WINDOW = '2026-06-10T08:00:00.000Z';
const RACE_DAY = '2026-06-13T09:00:00.000Z';

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

const back = (entry: TestEntry, as: Parameters<TestApp['api']>[0] = 'inspector', reason = 'hose was changed') =>
  t.api(as).post(`/v1/entries/${entry.entryId}/back-to-line`).send({ reason });

async function refused(checks: object[] = [], overrides: Record<string, unknown> = {}): Promise<TestEntry> {
  t.clock.set(IN_WINDOW);
  const entry = await createTestEntry(t, event, overrides);
  expect((await submit(t, entry)).status).toBe(201);
  t.clock.set(RACE_DAY);
  const claimed = await claim(t, event, entry.carNumber);
  const decided = await signOff(t, claimed.body.claimId, { decision: 'refuse', note: 'brake hose chafed', checks });
  expect(decided.status).toBe(201);
  return entry;
}

describe('back to the line', () => {
  test('a refused car waits again after the window, with why, and can be claimed and accepted', async () => {
    const entry = await refused();
    const sent = await back(entry).expect(200);
    expect(sent.body).toMatchObject({
      carNumber: entry.carNumber,
      clearance: { admit: false, status: 'in-line', reason: expect.stringContaining('hose was changed') },
    });
    const { body } = await t.api('marshal').get(`/v1/events/${event.eventId}/line`).expect(200);
    const ticket = body.tickets.find((one: { ticketId: string }) => one.ticketId === sent.body.ticketId);
    expect(ticket).toMatchObject({ entryId: entry.entryId, place: sent.body.place });
    expect((await historyOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'entry.sent-back',
      data: { reason: 'hose was changed' },
    });
    const again = await back(entry).expect(409);
    expect(again.body).toMatchObject({ code: 'state-moved-on', currentState: 'in-line', place: sent.body.place });
    const claimed = await claim(t, event, entry.carNumber);
    await signOff(t, claimed.body.claimId, { decision: 'accept', stickerNumber: `B${entry.carNumber}` });
    expect((await gate(t, event, entry.carNumber)).admit).toBe(true);
  });

  test('a car that was signed off for day one comes back on day two; its old sticker counts no more', async () => {
    t.clock.set(IN_WINDOW);
    const entry = await createTestEntry(t, event);
    const stickerNumber = `D${entry.carNumber}`;
    await accept(t, event, entry, { validUntil: '2026-06-13T20:00:00.000Z', stickerNumber });
    t.clock.set('2026-06-14T07:00:00.000Z');
    expect((await gate(t, event, entry.carNumber)).status).toBe('expired');
    await back(entry, 'chief', 'day two').expect(200);
    const car = await t.deps.db.prisma.$queryRaw<{ facts: { voidStickers: string[] } }[]>`
      SELECT k.facts FROM car_clearances k JOIN clearances c ON c.car_id = k.id WHERE c.entry_id = ${entry.entryId}::uuid`;
    expect(car[0]?.facts.voidStickers).toEqual([stickerNumber]);
    expect((await claim(t, event, entry.carNumber)).status).toBe(201);
  });

  test('an accepted car that goes back is admitted no more until it is accepted anew', async () => {
    t.clock.set(IN_WINDOW);
    const entry = await createTestEntry(t, event);
    await accept(t, event, entry);
    t.clock.set(RACE_DAY);
    expect((await gate(t, event, entry.carNumber)).admit).toBe(true);
    await back(entry, 'organizer').expect(200);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'in-line' });
  });

  test('is not for who has an interest, a car never declared, or one that is withdrawn', async () => {
    t.clock.set(IN_WINDOW);
    const own = await createTestEntry(t, event, { entrant: { name: 'Test chief' } });
    await accept(t, event, own);
    expect((await back(own, 'chief').expect(403)).body.code).toBe('conflict-of-interest');
    const undeclared = await createTestEntry(t, event);
    expect((await back(undeclared).expect(409)).body.currentState).toBe('no-declaration');
    await t.api('organizer').post(`/v1/entries/${undeclared.entryId}/withdraw`).send({ reason: 'gone' });
    expect((await back(undeclared).expect(409)).body.currentState).toBe('withdrawn');
  });
});
