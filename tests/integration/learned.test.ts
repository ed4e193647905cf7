import { afterAll, beforeAll, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, claim, createTestEntry, createTestEvent, signOff, submit, type TestEvent } from '../support/event.ts';

let t: TestApp;
beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());

const LOOKED = 'radiator.debris';
const learned = async (language = 'en') =>
  (await t.api('chief').get('/v1/learned').set('accept-language', language).expect(200)).body;

/** The same event a month later, under the same rules. */
async function next(first: TestEvent, month: number): Promise<TestEvent> {
  const api = t.api('organizer');
  const event = await api.post('/v1/events').send({
    name: `Weekend ${month}`,
    venueId: first.venueId,
    startsOn: `2026-0${month}-11`,
    endsOn: `2026-0${month}-12`,
    declarationsOpenAt: `2026-0${month}-01T06:00:00Z`,
    declarationsCloseAt: `2026-0${month}-12T18:00:00Z`,
  });
  const rules = { ruleSetId: first.ruleSetId, ruleSetVersion: 1, parameters: {} };
  const group = { name: 'Novice', order: 1, firstSessionAt: `2026-0${month}-11T07:00:00Z`, ...rules };
  const { eventId } = event.body;
  const { body } = await api.post(`/v1/events/${eventId}/run-groups`).send(group).expect(201);
  return { ...first, eventId, novice: body.runGroupId, advanced: body.runGroupId };
}

const wrong = (isWrong: boolean) => ({
  checks: [{ item: LOOKED, result: isWrong ? 'not-ok' : 'ok' }],
  ...(isWrong ? { decision: 'accept-with-conditions', conditions: [{ text: 'Clean it' }] } : {}),
});
const ROADSTER = { description: 'Roadster 1.8, 2006', body: 'closed', powertrain: 'combustion' };

test('what was found at events that are over is counted, and said to be too little where it is', async () => {
  const june = await createTestEvent(t);
  expect(await learned()).toMatchObject({
    looks: { isEnough: false, chosen: { count: 0, of: 0 }, bins: [] },
    wear: { isEnough: false, inside: { of: 0 } },
    repeated: [],
  });
  for (let car = 0; car < 6; car += 1) {
    const roadster = await createTestEntry(t, june, { vehicle: ROADSTER });
    expect((await accept(t, june, roadster, wrong(car < 2))).status).toBe(201);
    const coupe = await createTestEntry(t, june);
    expect((await accept(t, june, coupe, wrong(false))).status).toBe(201);
  }
  // the event is not over
  expect((await learned()).looks.others.of).toBe(0);

  t.clock.set('2026-07-10T08:00:00Z');
  const july = await next(june, 7);
  // two cars and one event are chance
  expect((await learned()).repeated).toEqual([]);
  const entry = await createTestEntry(t, july, { vehicle: ROADSTER });
  await submit(t, entry);
  const claimed = await claim(t, july, entry.carNumber);
  const chosen = (claimed.body.pointsToCheck as { item: string; asked: string }[]).filter((p) => p.asked === 'chosen');
  expect(chosen.map(({ item }) => item)).toContain(LOOKED);
  const sticker = { stickerNumber: `S${entry.carNumber}` };
  expect((await signOff(t, claimed.body.claimId, { ...sticker, ...wrong(true) })).status).toBe(201);

  t.clock.set('2026-08-01T08:00:00Z');
  const now = await learned();
  expect(now.looks.chosen).toMatchObject({ count: 1, of: 1 });
  expect(now.looks.isEnough).toBe(false);
  expect(now.looks.notLooked).toBe(new Set(chosen.map(({ item }) => item)).size - 1);
  expect(now.repeated).toMatchObject([
    {
      item: LOOKED,
      kind: 'roadster 1.8',
      cars: 3,
      events: 2,
      share: { count: 3, of: 7 },
      elsewhere: { count: 0, of: 6 },
    },
  ]);
  const [german] = (await learned('de')).repeated;
  expect(german.label).not.toBe(now.repeated[0].label);
  // people and cars stand nowhere in it
  expect(JSON.stringify(now)).not.toMatch(new RegExp(`Entrant of|${entry.entryId}`));
});
