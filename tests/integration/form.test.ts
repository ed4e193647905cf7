import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import {
  accept,
  createTestEntry,
  createTestEvent,
  GOOD_ANSWERS,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { wholeForm } from '../support/form.ts';

let t: TestApp;
let june: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  june = await createTestEvent(t);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const form = (entry: TestEntry) => wholeForm(t, entry);
const itemOf = (body: { items: readonly { key: string }[] }, key: string) => body.items.find((one) => one.key === key);

describe('the form', () => {
  test('names event, zone and areas in the order of the walk', async () => {
    const body = await form(await createTestEntry(t, june));
    expect(body.event).toMatchObject({ startsOn: '2026-06-13', endsOn: '2026-06-14', timeZone: 'Europe/Berlin' });
    expect(body.event.name).toMatch(/^Test event/u);
    const areas = body.areas.map((one) => one.area);
    expect(areas.slice(0, 3)).toEqual(['engine', 'cooling', 'brake-hydraulics']);
    expect(areas.at(-1)).toBe('papers');
    // the car has no high voltage
    expect(areas).not.toContain('electric');
    expect(new Set(body.items.map((one) => one.area))).toEqual(new Set(areas));
  });

  test('gives limits as numbers, and what the rules say of the draft', async () => {
    const entry = await createTestEntry(t, june);
    const saved = await t
      .api(entry.entrant)
      .put(`/v1/entries/${entry.entryId}/declaration`)
      .set('if-match', '"0"')
      .send({ answers: { ...GOOD_ANSWERS, 'pad.thickness': { 'FL.in': 3 } } })
      .expect(200);
    const body = await form(entry);
    const bounds = { min: { value: 4, unit: 'mm' } };
    const { rules } = itemOf(body, 'pad.thickness') as unknown as { rules: object[] };
    expect(rules[0]).toMatchObject({ limit: '≥ 4 mm', bounds });
    expect(body).toMatchObject({ verdict: 'barred', tally: saved.body.tally, judgedBy: saved.body.judgedBy });
    const pad = body.findings.find((one) => one.position === 'FL.in');
    expect(pad).toMatchObject({ result: 'not-met', bounds, margin: { value: -1, unit: 'mm' } });
    const pedal = body.findings.find((one) => one.ruleId === 'pedal-firm');
    expect(pedal).not.toHaveProperty('bounds');
  });
});

describe('what was answered last time', () => {
  /** An event that was over before June, in the group and under the rules of June's. */
  async function spring(): Promise<TestEvent> {
    const made = await t.api('organizer').post('/v1/events').send({
      name: 'Spring weekend',
      venueId: june.venueId,
      startsOn: '2026-06-06',
      endsOn: '2026-06-07',
      declarationsOpenAt: '2026-06-01T06:00:00Z',
      declarationsCloseAt: '2026-06-07T18:00:00Z',
    });
    const group = { name: 'Novice', order: 1, firstSessionAt: '2026-06-06T07:00:00Z', parameters: {} };
    const rules = { ruleSetId: june.ruleSetId, ruleSetVersion: 1 };
    const { eventId } = made.body;
    const { body } = await t
      .api('organizer')
      .post(`/v1/events/${eventId}/run-groups`)
      .send({ ...group, ...rules })
      .expect(201);
    return { ...june, eventId, novice: body.runGroupId, advanced: body.runGroupId };
  }

  const PERSONAL = { 'helmet.standard': 'Snell SA2020', 'debrief.symptoms': ['vibration'] };

  async function twice(second: Record<string, unknown>): Promise<{ first: TestEntry; second: TestEntry }> {
    const event = await spring();
    const first = await createTestEntry(t, event, { entrant: { name: 'Ines' } });
    t.clock.set('2026-06-05T08:00:00Z');
    await submit(t, first, { ...GOOD_ANSWERS, ...PERSONAL });
    const { vehicleId } = (await t.api('organizer').get(`/v1/entries/${first.entryId}`)).body;
    t.clock.set('2026-06-06T06:30:00Z');
    await accept(t, event, first, { checks: [{ item: 'pad.thickness', position: 'FL.in', value: 7.2 }] });
    t.clock.set('2026-06-09T08:00:00Z');
    return { first, second: await createTestEntry(t, june, { vehicle: undefined, vehicleId, ...second }) };
  }

  test('is offered to the same person: measured before declared, never a confirmation', async () => {
    const { second } = await twice({ entrant: { name: 'Ines' } });
    // accepting submitted once more, without the personal answers: that revision is the newest
    const body = await form(second);
    expect(body.earlier).toEqual({ event: 'Spring weekend', endsOn: '2026-06-07' });
    const pads = GOOD_ANSWERS['pad.thickness'];
    expect(itemOf(body, 'pad.thickness')).toMatchObject({
      earlier: { answer: { ...pads, 'FL.in': 7.2 }, lasting: false },
    });
    expect(itemOf(body, 'brake-fluid.flushed-on')).toMatchObject({ earlier: { answer: '2026-04-01', lasting: true } });
    expect(itemOf(body, 'body.floor-mats-out')).not.toHaveProperty('earlier');
    expect(itemOf(body, 'pad.thickness')).not.toHaveProperty('saved');
  });

  test('is held against what is answered now: a question in the garage, then a point at the line', async () => {
    const { second } = await twice({ entrant: { name: 'Ines' } });
    const pads = { ...GOOD_ANSWERS['pad.thickness'], 'FL.in': 11 };
    const save = async (more: object, rev: number) => {
      const sent = t.api(second.entrant).put(`/v1/entries/${second.entryId}/declaration`).set('if-match', `"${rev}"`);
      return (await sent.send({ answers: { ...GOOD_ANSWERS, 'pad.thickness': pads, ...more } }).expect(200)).body;
    };
    const saved = await save({}, 0);
    const about = { code: 'grew', item: 'pad.thickness', places: ['FL.in'], newItem: 'pad.new-since-last' };
    expect(saved.doubts).toEqual([
      { ...about, saidNotNew: false, says: expect.stringContaining('7.2 mm then, 11 mm now') },
    ]);
    const isNew = { 'pad.new-since-last': { front: true, rear: true } };
    expect((await save(isNew, 1)).doubts).toEqual([]);
    expect((await save({ 'pad.new-since-last': { front: false } }, 2)).doubts).toMatchObject([{ saidNotNew: true }]);
    const german = await t.api(second.entrant).get(`/v1/entries/${second.entryId}/form`).set('accept-language', 'de');
    expect(german.body.doubts[0].says).toContain('damals 7.2 mm');
    // it decides nothing: the verdict is that of the answers
    await t
      .api(second.entrant)
      .post(`/v1/entries/${second.entryId}/inspections`)
      .set('idempotency-key', second.entryId)
      .send({})
      .expect(201);
    const claim = await t
      .api('inspector')
      .post(`/v1/events/${june.eventId}/line/claims`)
      .send({ carNumber: second.carNumber })
      .expect(201);
    const points = claim.body.pointsToCheck as { item: string; position?: string; asked: string; why: string }[];
    const doubted = points.filter(({ asked }) => asked === 'doubt');
    expect(doubted).toMatchObject([{ item: 'pad.thickness', position: 'FL.in' }]);
    expect(doubted[0]).not.toHaveProperty('ruleId');
    expect(doubted[0]?.why).toContain('7.2 mm then, 11 mm now');
  });

  test('about a person is not shown to another entrant of the car', async () => {
    const { first, second } = await twice({ entrant: { name: 'Tomas' } });
    t.clock.set('2026-06-07T08:00:00Z');
    await submit(t, first, { ...GOOD_ANSWERS, ...PERSONAL });
    const other = await form(second);
    expect(itemOf(other, 'helmet.standard')).not.toHaveProperty('earlier');
    expect(itemOf(other, 'brake.pedal')).toMatchObject({ earlier: { answer: 'firm' } });
    const { vehicleId } = (await t.api('organizer').get(`/v1/entries/${first.entryId}`)).body;
    const again = await createTestEntry(t, june, { vehicle: undefined, vehicleId, entrant: { name: 'Ines' } });
    const own = await form(again);
    expect(itemOf(own, 'helmet.standard')).toMatchObject({ earlier: { answer: 'Snell SA2020', lasting: true } });
    expect(itemOf(own, 'debrief.symptoms')).not.toHaveProperty('earlier');
  });

  test('is nothing at a first event, and nothing of an event to come', async () => {
    const { first } = await twice({ entrant: { name: 'Ines' } });
    expect(await form(first)).not.toHaveProperty('earlier');
  });
});
