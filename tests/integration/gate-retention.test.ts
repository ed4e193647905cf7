import { afterAll, beforeAll, expect, test } from 'vitest';
import { removeOldChecks } from '../../src/features/gate/look-up.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEvent } from '../support/event.ts';
import { sql } from '../support/records.ts';

let t: TestApp;
beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());

const DAY_MS = 86_400_000;

/** An event with two lookups, one of which something speaks against. */
async function eventWithChecks(retentionDays: number): Promise<{ eventId: string; endsOn: Date }> {
  const { eventId } = await createTestEvent(t);
  const event = await t.deps.db.prisma.event.update({ where: { id: eventId }, data: { retentionDays } });
  await sql(
    t,
    `INSERT INTO gate_checks (id, event_id, car_number, admit, status, asked_by, asked_name, asked_at, client_id, uploaded_at, contradicts)
     SELECT gen_random_uuid(), $1, '7', true, 'clear', gen_random_uuid(), 'Gate phone', now(),
       CASE WHEN contradicts IS NOT NULL THEN gen_random_uuid() END, CASE WHEN contradicts IS NOT NULL THEN now() END, contradicts
     FROM unnest(ARRAY['held', NULL]) AS contradicts`,
    [eventId],
  );
  return { eventId, endsOn: event.endsOn };
}
const left = async (eventId: string) =>
  (await t.deps.db.prisma.gateCheck.findMany({ where: { eventId }, orderBy: { id: 'asc' } })).map(
    (row) => row.contradicts,
  );
const daysAfter = (day: Date, days: number) => t.clock.set(new Date(day.getTime() + days * DAY_MS + DAY_MS / 2));

test('lookups stay for 30 days after the event; those that something speaks against stay with the personal data', async () => {
  const { eventId, endsOn } = await eventWithChecks(90);
  daysAfter(endsOn, 30);
  await removeOldChecks(t.deps);
  expect(await left(eventId)).toHaveLength(2);
  daysAfter(endsOn, 31);
  await removeOldChecks(t.deps, AbortSignal.abort());
  expect(await left(eventId)).toHaveLength(2);
  expect(await removeOldChecks(t.deps)).toBe(1);
  expect(await left(eventId)).toEqual(['held']);
  daysAfter(endsOn, 90);
  expect(await removeOldChecks(t.deps)).toBe(0);
  daysAfter(endsOn, 91);
  expect(await removeOldChecks(t.deps)).toBe(1);
  expect(await left(eventId)).toEqual([]);
});

test('an event that keeps personal data for a shorter time keeps no lookup for longer', async () => {
  const { eventId, endsOn } = await eventWithChecks(10);
  const other = await eventWithChecks(365);
  daysAfter(endsOn, 11);
  expect(await removeOldChecks(t.deps)).toBe(2);
  expect(await left(eventId)).toEqual([]);
  expect(await left(other.eventId)).toHaveLength(2);
});
