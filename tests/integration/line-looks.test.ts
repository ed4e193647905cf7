import { afterAll, beforeAll, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, claim, createTestEntry, createTestEvent, signOff, submit, type TestEvent } from '../support/event.ts';
import { historyOf, sql } from '../support/records.ts';

let t: TestApp;
let june: TestEvent;
beforeAll(async () => {
  t = await startTestApp();
  june = await createTestEvent(t);
});
afterAll(() => t.close());

type Point = {
  item: string;
  position?: string;
  asked: string;
  why: string;
  chosen?: { looked: number; wrong: number; why: string };
};
const LOOKED = 'radiator.debris';

/** The event of July under the rules of June's, for cars of the same kind. */
async function july(): Promise<TestEvent> {
  const api = t.api('organizer');
  const event = await api.post('/v1/events').send({
    name: 'July weekend',
    venueId: june.venueId,
    startsOn: '2026-07-11',
    endsOn: '2026-07-12',
    declarationsOpenAt: '2026-06-20T06:00:00Z',
    declarationsCloseAt: '2026-07-12T18:00:00Z',
  });
  const rules = { ruleSetId: june.ruleSetId, ruleSetVersion: 1, parameters: {} };
  const { eventId } = event.body;
  const group = { name: 'Novice', order: 1, firstSessionAt: '2026-07-11T07:00:00Z', ...rules };
  const { body } = await api.post(`/v1/events/${eventId}/run-groups`).send(group).expect(201);
  return { ...june, eventId, novice: body.runGroupId, advanced: body.runGroupId };
}

test('a claim names what was found wrong on such cars at events that are over, and keeps the choice', async () => {
  const first = await createTestEntry(t, june);
  await submit(t, first);
  // nothing was learned yet, so nothing is chosen
  const none = await claim(t, june, first.carNumber);
  const pointsOf = (of: { body: { pointsToCheck: Point[] } }) => of.body.pointsToCheck;
  expect(pointsOf(none).filter(({ asked }) => asked === 'chosen')).toEqual([]);
  await t.api('inspector').delete(`/v1/claims/${none.body.claimId}`);
  for (let car = 0; car < 6; car += 1) {
    const entry = car === 0 ? first : await createTestEntry(t, june);
    const isWrong = car < 4;
    const decided = await accept(t, june, entry, {
      checks: [{ item: LOOKED, result: isWrong ? 'not-ok' : 'ok' }],
      ...(isWrong ? { decision: 'accept-with-conditions', conditions: [{ text: 'Clean it' }] } : {}),
    });
    expect(decided.status).toBe(201);
  }
  t.clock.set('2026-07-10T08:00:00Z');
  const second = await july();
  const entry = await createTestEntry(t, second);
  await submit(t, entry);
  const claimed = await claim(t, second, entry.carNumber);
  const chosen = pointsOf(claimed).filter(({ asked }) => asked === 'chosen');
  expect(chosen.find(({ item }) => item === LOOKED)).toMatchObject({
    why: 'Wrong on 4 of 6 such cars that were looked at.',
    chosen: { looked: 6, wrong: 4 },
  });
  // never more than three minutes of it, and all else is still there
  const kept = await sql<{ looks: { item: string; seconds: number }[] }>(
    t,
    'SELECT looks FROM claims WHERE id = $1::uuid',
    [claimed.body.claimId],
  );
  expect(kept[0]?.looks.map(({ item }) => item)).toEqual([...new Set(chosen.map(({ item }) => item))]);
  expect(kept[0]?.looks.reduce((sum, { seconds }) => sum + seconds, 0)).toBeLessThanOrEqual(180);
  const items = (points: Point[]) => new Set(points.map(({ item }) => item));
  expect(items(pointsOf(claimed))).toEqual(items(pointsOf(none)));
  // put back and claimed again it is the same list
  await t.api('inspector').delete(`/v1/claims/${claimed.body.claimId}`);
  const again = await claim(t, second, entry.carNumber);
  expect(pointsOf(again).filter(({ asked }) => asked === 'chosen')).toEqual(chosen);
  // and it is accepted without any of it
  const signed = await signOff(t, again.body.claimId, { decision: 'accept', stickerNumber: `S${entry.carNumber}` });
  expect(signed.status).toBe(201);
  // what is sealed is what the inspector had before him, in that order
  const { data } = (await historyOf(t, entry.entryId)).at(-1) ?? {};
  const place = ({ item, position }: Point) => (position === undefined ? item : `${item}@${position}`);
  expect(data).toMatchObject({ shown: pointsOf(again).map(place) });
});
