import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  GOOD_ANSWERS,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { answerCar, carPath, giveCar, inviteShop, openTestShop, signCar, type TestShop } from '../support/shop.ts';

let t: TestApp;
let event: TestEvent;
beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

const PADS = GOOD_ANSWERS['pad.thickness'];
const THIN = { ...PADS, 'FL.in': 2 };
const OTHERS = Object.fromEntries(Object.entries(GOOD_ANSWERS).filter(([key]) => key !== 'pad.thickness'));

async function saveDraft(entry: TestEntry, answers: object) {
  const api = t.api(entry.entrant);
  const { headers } = await api.get(`/v1/entries/${entry.entryId}/form`).expect(200);
  return api
    .put(`/v1/entries/${entry.entryId}/declaration`)
    .set('if-match', headers['etag'] ?? '')
    .send({ answers })
    .expect(200);
}

const formOf = async (entry: TestEntry) =>
  (await t.api(entry.entrant).get(`/v1/entries/${entry.entryId}/form`).expect(200)).body;
const savedOf = async (entry: TestEntry, key: string) =>
  (await formOf(entry)).items.find((item: { key: string }) => item.key === key)?.saved;
const readCar = async (shop: TestShop, shopLinkId: string) =>
  (await t.api(shop.token).get(carPath(shop, shopLinkId)).expect(200)).body;
const listCars = async (shop: TestShop) =>
  (await t.api(shop.token).get(`/v1/shops/${shop.shopId}/cars`).expect(200)).body.cars;

describe('a shop', () => {
  test('has the cars of many owners on one page, across events, and no other car', async () => {
    const later = await createTestEvent(t);
    const first = await createTestEntry(t, event);
    const second = await createTestEntry(t, later);
    const stranger = await createTestEntry(t, event);
    const shop = await openTestShop(t, first);
    const other = await openTestShop(t, stranger, { name: 'Another workshop' });
    await giveCar(t, shop, second);
    const cars = await listCars(shop);
    expect(cars.map((car: { carNumber: string }) => car.carNumber).toSorted()).toEqual(
      [first.carNumber, second.carNumber].toSorted(),
    );
    expect(cars[0]).toMatchObject({ state: 'to-answer', given: 0, bars: 0, unsigned: 0, parts: [] });
    await t.api(shop.token).get(carPath(shop, other.shopLinkId)).expect(404);
    await t.api(shop.token).get(`/v1/shops/${other.shopId}/cars`).expect(404);
    await t.api(shop.token).get(`/v1/entries/${first.entryId}`).expect(403);
    await t.api(shop.token).get(`/v1/events/${event.eventId}/entries`).expect(403);
    const { questions } = (await readCar(shop, shop.shopLinkId)).form;
    await t.api(shop.token).get(questions.address).expect(200);
    await t.api(shop.token).get(questions.address.replace(questions.runGroupId, event.advanced)).expect(404);
  });

  test('answers its part alone, and of that nothing is the owner’s before it is signed', async () => {
    const entry = await createTestEntry(t, event);
    await saveDraft(entry, OTHERS);
    const shop = await openTestShop(t, entry, { areas: ['brake-hardware'] });
    const { form, car } = await readCar(shop, shop.shopLinkId);
    expect(form.items.map(({ key }: { key: string }) => key)).toContain('pad.thickness');
    expect(form.items.some(({ key }: { key: string }) => key in OTHERS)).toBe(false);
    expect(car).toMatchObject({ areas: ['brake-hardware'], state: 'to-answer' });
    const refused = await answerCar(t, shop, shop.shopLinkId, { 'brake.pedal': 'firm' });
    expect(refused.status).toBe(422);
    expect(refused.body.errors).toMatchObject([{ pointer: '/answers/brake.pedal', code: 'not-yours' }]);
    const saved = await answerCar(t, shop, shop.shopLinkId, { 'pad.thickness': PADS });
    expect(saved.status, JSON.stringify(saved.body)).toBe(200);
    expect(saved.body).toMatchObject({ verdict: 'clean', missing: [] });
    expect(await savedOf(entry, 'pad.thickness')).toBeUndefined();
    const signed = await signCar(t, shop, shop.shopLinkId);
    expect(signed.status, JSON.stringify(signed.body)).toBe(201);
    expect(signed.body.places.toSorted()).toEqual(
      Object.keys(PADS)
        .map((at) => `pad.thickness@${at}`)
        .toSorted(),
    );
    expect(await savedOf(entry, 'pad.thickness')).toEqual(PADS);
    expect(await savedOf(entry, 'brake.pedal')).toEqual(OTHERS['brake.pedal']);
    expect((await readCar(shop, shop.shopLinkId)).car).toMatchObject({ state: 'done', signed: { name: 'Ada Quist' } });
  });

  test('never submits: the owner does, and the declaration says who said what', async () => {
    const entry = await createTestEntry(t, event);
    await saveDraft(entry, OTHERS);
    const shop = await openTestShop(t, entry);
    await answerCar(t, shop, shop.shopLinkId, { 'pad.thickness': PADS });
    await t.api(shop.token).post(`/v1/entries/${entry.entryId}/inspections`).send({}).expect(403);
    await signCar(t, shop, shop.shopLinkId);
    const form = await formOf(entry);
    expect(form.said).toMatchObject([{ shop: 'Unit 7 workshop', name: 'Ada Quist' }]);
    // one place is the owner's own now, the others stay signed
    const changed = await saveDraft(entry, { ...OTHERS, 'pad.thickness': { ...PADS, 'RR.out': 9.5 } });
    expect(changed.body.said[0].places).not.toContain('pad.thickness@RR.out');
    expect(changed.body.said[0].places).toContain('pad.thickness@RR.in');
    const sent = await submit(t, entry, { ...OTHERS, 'pad.thickness': { ...PADS, 'RR.out': 9.5, 'FL.in': 9.4 } });
    expect(sent.status).toBe(201);
    expect(sent.body.said[0].places).not.toContain('pad.thickness@FL.in');
    expect(sent.body.said[0].places).toHaveLength(Object.keys(PADS).length - 2);
    const kept = await t.api('inspector').get(`/v1/inspections/${sent.body.inspectionId}`).expect(200);
    expect(kept.body.said).toEqual(sent.body.said);
  });

  test('works off an order: what is done answers the question again with the new value', async () => {
    const entry = await createTestEntry(t, event);
    await saveDraft(entry, { ...OTHERS, 'pad.thickness': THIN });
    const shop = await openTestShop(t, entry);
    const before = await readCar(shop, shop.shopLinkId);
    expect(before.car).toMatchObject({
      state: 'to-mend',
      bars: 1,
      parts: [{ part: 'pads', places: ['front'], isNeeded: true }],
    });
    expect(before.order.lines).toMatchObject([
      { ruleId: 'pad-thickness', positions: ['FL.in'], fix: 'Fit new pads on both sides of the axle.', part: 'pads' },
    ]);
    await answerCar(t, shop, shop.shopLinkId, { 'pad.thickness': { 'FL.in': 11 } });
    expect(await readCar(shop, shop.shopLinkId)).toMatchObject({
      car: { state: 'to-sign', unsigned: 1 },
      order: { lines: [] },
    });
    await signCar(t, shop, shop.shopLinkId);
    expect(await savedOf(entry, 'pad.thickness')).toEqual({ ...PADS, 'FL.in': 11 });
    const again = await signCar(t, shop, shop.shopLinkId);
    expect(again.body.errors).toMatchObject([{ code: 'nothing-to-sign' }]);
  });

  test('signs what it has looked at: an older version is refused', async () => {
    const entry = await createTestEntry(t, event);
    const shop = await openTestShop(t, entry);
    const api = t.api(shop.token);
    const { headers } = await api.get(carPath(shop, shop.shopLinkId));
    await answerCar(t, shop, shop.shopLinkId, { 'pad.thickness': PADS });
    const path = `${carPath(shop, shop.shopLinkId)}/signatures`;
    const stale = await api
      .post(path)
      .set('if-match', headers['etag'] ?? '')
      .send({ name: 'Ada Quist' });
    expect(stale.status).toBe(412);
    await api.post(path).send({ name: 'Ada Quist' }).expect(428);
    expect(await savedOf(entry, 'pad.thickness')).toBeUndefined();
  });
});

describe('a link', () => {
  test('is taken by one shop, once, and by the same one again', async () => {
    const entry = await createTestEntry(t, event);
    const { code } = await inviteShop(t, entry);
    const opened = await t.api(undefined).post('/v1/shops').send({ code, name: 'First' }).expect(201);
    const second = await t.api(undefined).post('/v1/shops').send({ code, name: 'Second' });
    expect(second.body.type).toContain('enrolment-used');
    expect(await t.deps.db.prisma.shop.count({ where: { name: 'Second' } })).toBe(0);
    const token = { ...opened.body, role: 'shop', holder: 'First' } as const;
    const again = await t.api(token).post(`/v1/shops/${opened.body.shopId}/cars`).send({ code }).expect(201);
    expect(again.body.shopLinkId).toBe(opened.body.shopLinkId);
    await t.api(undefined).post('/v1/shops').send({ code: 'no-such-code', name: 'Third' }).expect(401);
  });

  test('is taken back: the shop sees nothing any more, what it signed stays said', async () => {
    const entry = await createTestEntry(t, event);
    await saveDraft(entry, OTHERS);
    const shop = await openTestShop(t, entry);
    await answerCar(t, shop, shop.shopLinkId, { 'pad.thickness': PADS });
    await signCar(t, shop, shop.shopLinkId);
    await answerCar(t, shop, shop.shopLinkId, { 'pad.thickness': { ...PADS, 'FL.in': 3 } });
    const path = `/v1/entries/${entry.entryId}/shop-links`;
    const owner = t.api(entry.entrant);
    await owner.delete(`${path}/${shop.shopLinkId}`).expect(204);
    await owner.delete(`${path}/${shop.shopLinkId}`).expect(204);
    await t.api(shop.token).get(carPath(shop, shop.shopLinkId)).expect(404);
    expect(await listCars(shop)).toEqual([]);
    const { links } = (await owner.get(path).expect(200)).body;
    expect(links).toMatchObject([{ state: 'ended', unsigned: 0, signatures: [{ name: 'Ada Quist' }] }]);
    expect((await formOf(entry)).said).toHaveLength(1);
    expect(await savedOf(entry, 'pad.thickness')).toEqual(PADS);
  });

  test('ends a week after the event, and its code after thirty days', async () => {
    const own = await startTestApp();
    const days = await createTestEvent(own);
    const entry = await createTestEntry(own, days);
    const { code } = await inviteShop(own, entry);
    const shop = await openTestShop(own, await createTestEntry(own, days));
    const at = async (instant: string) => {
      own.clock.set(new Date(instant));
      return own.api(shop.token).get(carPath(shop, shop.shopLinkId));
    };
    expect((await at('2026-06-21T21:59:00Z')).status).toBe(200);
    expect((await at('2026-06-21T22:01:00Z')).status).toBe(404);
    own.clock.set(new Date('2026-07-11T00:00:00Z'));
    const late = await own.api(shop.token).post(`/v1/shops/${shop.shopId}/cars`).send({ code });
    expect(late.status).toBe(410);
    await own.close();
  });

  test('of a lost device is of no use once the shop has a new token', async () => {
    const shop = await openTestShop(t, await createTestEntry(t, event));
    const fresh = await t.api(shop.token).post(`/v1/shops/${shop.shopId}/token`).send({}).expect(201);
    await t.api(shop.token).get(`/v1/shops/${shop.shopId}/cars`).expect(401);
    expect(await listCars({ ...shop, token: { ...fresh.body, role: 'shop' } })).toHaveLength(1);
  });
});

describe('who prepared a car', () => {
  test('does not inspect it; what was signed stands in the history, without a name', async () => {
    const entry = await createTestEntry(t, event);
    await saveDraft(entry, OTHERS);
    const shop = await openTestShop(t, entry);
    await answerCar(t, shop, shop.shopLinkId, { 'pad.thickness': PADS });
    await signCar(t, shop, shop.shopLinkId, 'Bela Somerset');
    await submit(t, entry, GOOD_ANSWERS);
    const same = await t.mint('inspector', { holder: 'BELA Somerset' });
    const refused = await claim(t, event, entry.carNumber, same);
    expect(refused.body.type).toContain('conflict-of-interest');
    expect((await claim(t, event, entry.carNumber)).status).toBe(201);
    const { body } = await t.api('chief').get(`/v1/entries/${entry.entryId}/history`).expect(200);
    const told = JSON.stringify(body);
    expect(told).toContain('shop.signed');
    expect(told).not.toContain('Bela');
  });
});
