import { afterAll, afterEach, beforeAll, expect, test } from 'vitest';
import { BUILT_IN_RULE_SET, PROFILES } from '../../seed/built-in.ts';
import { carOf } from '../../seed/cars.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { accept, claim, createTestEntry, createTestEvent, gate, GOOD_ANSWERS, submit } from '../support/event.ts';

let t: TestApp;
beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

test('counts down from the saved answers, the log and the dates, in the language that is asked for', async () => {
  const event = await createTestEvent(t, BUILT_IN_RULE_SET);
  const group = await t
    .api('organizer')
    .post(`/v1/events/${event.eventId}/run-groups`)
    .send({
      name: 'Novice, as built in',
      order: 3,
      firstSessionAt: '2026-06-13T08:00:00Z',
      ruleSetId: event.ruleSetId,
      ruleSetVersion: 1,
      parameters: PROFILES.novice,
    })
    .expect(201);
  const entry = await createTestEntry(t, event, { runGroupId: group.body.runGroupId, vehicle: carOf('drumHatch') });
  const api = t.api(entry.entrant);
  const address = `/v1/entries/${entry.entryId}`;
  const answers = {
    'pad.thickness': { front: { basis: 'lowest-of-axle', value: 3 } },
    'brake-fluid.flushed-on': '2026-03-01',
  };
  await api.put(`${address}/declaration`).set('if-match', '"0"').send({ answers }).expect(200);
  const log = (kind: string, session: string, mm: number) =>
    api
      .post(`${address}/log`)
      .set('idempotency-key', `${kind}-${session}`)
      .send({ kind, session, values: { 'pad.thickness': { front: { basis: 'lowest-of-axle', value: mm } } } })
      .expect(201);
  await log('pads', '1', 8);
  await log('pads', '3', 7.2);
  const { body, headers } = await api.get(`${address}/countdown`).set('accept-language', 'de').expect(200);
  expect(headers['content-language']).toBe('de');
  const tasks = Object.fromEntries(
    body.stages.map(({ stage, tasks: of }: { stage: string; tasks: { kind: string }[] }) => [stage, of]),
  ) as Record<string, { kind: string; part?: string; titles?: string[]; by?: string }[]>;
  expect(tasks['two-weeks']?.map(({ part }) => part)).toContain('pads');
  expect(tasks['one-week']?.map(({ kind }) => kind)).toEqual(
    expect.arrayContaining(['fix', 'bed-in', 'answer', 'declare']),
  );
  expect(tasks['after']?.[0]).toMatchObject({ kind: 'wore', axle: 'front', before: 8, value: 7.2, count: 2 });
  expect(body.dates.map(({ what }: { what: string }) => what)).toEqual(['declare-by', 'first-session']);
  expect(body.looks.length).toBeGreaterThan(3);
  expect(body.caution).toMatch(/never guarantees/);
  // another car's entrant learns nothing of it
  const other = await createTestEntry(t, event);
  await t.api(other.entrant).get(`${address}/countdown`).expect(404);
});

test('the claim and the gate say which worn part ends first, as a forecast that decides nothing', async () => {
  const event = await createTestEvent(t);
  const worn = await createTestEntry(t, event);
  await submit(t, worn);
  const { body } = await claim(t, event, worn.carNumber);
  // 8 mm everywhere and a limit of 4 mm last the event
  expect(body).not.toHaveProperty('lastSafe');
  const putBack = (claimId: string) => t.api('inspector').delete(`/v1/claims/${claimId}`);
  await putBack(body.claimId);
  const pads = { ...GOOD_ANSWERS['pad.thickness'], 'RL.in': 4.4 };
  await submit(t, worn, { ...GOOD_ANSWERS, 'pad.thickness': pads });
  const declared = await claim(t, event, worn.carNumber);
  await putBack(declared.body.claimId);
  const checks = [{ item: 'pad.thickness', position: 'RL.in', value: 4.4 }];
  expect((await accept(t, event, worn, { checks })).status).toBe(201);
  t.clock.set('2026-06-13T08:00:00Z');
  const said = await gate(t, event, worn.carNumber);
  expect(said).toMatchObject({ admit: true, status: 'clear' });
  const [own] = said['entries'] as [{ lastSafe: { sessions: number } }];
  expect(own.lastSafe).toMatchObject({ wear: 'pad', axle: 'rear', nowMm: 4.4, limitMm: 4 });
  expect(own.lastSafe.sessions).toBeLessThan(4);
  expect(declared.body.lastSafe).toEqual(own.lastSafe);
});

test('your car has the set-up of the quickest session, and what ends when by the rules of its group', async () => {
  const event = await createTestEvent(t, BUILT_IN_RULE_SET);
  const entry = await createTestEntry(t, event, { vehicle: carOf('drumHatch') });
  const api = t.api(entry.entrant);
  const address = `/v1/entries/${entry.entryId}`;
  const answers = { 'brake-fluid.flushed-on': '2026-03-01', 'brake-fluid.class': 'DOT 4' };
  await api.post(`${address}/inspections`).set('idempotency-key', 'first').send({ answers }).expect(201);
  let keys = 0;
  const log = async (session: string, body: object) => {
    keys += 1;
    return api
      .post(`${address}/log`)
      .set('idempotency-key', `log-${keys}`)
      .send({ session, ...body })
      .expect(201);
  };
  const hot = (kPa: number) => ({ kind: 'pressures', values: { 'tyre.hot-pressure': { FL: kPa } } });
  await log('1', hot(210));
  await log('1', { kind: 'laps', laps: 9, bestLapSeconds: 103.2 });
  await log('2', hot(220));
  await log('2', { kind: 'laps', bestLapSeconds: 101.4 });
  await log('2', { kind: 'note', note: 'softer bar' });
  // quicker, and something was felt that stops the car: no beginning for anybody
  await log('3', { kind: 'laps', bestLapSeconds: 99 });
  await log('3', { kind: 'symptom', symptoms: ['long-pedal-after-laps'] });
  const { body: found } = await t.api('organizer').get(address).expect(200);
  const records = `/v1/vehicles/${found.vehicleId}/records`;
  const { body, headers } = await api.get(records).set('accept-language', 'de').expect(200);
  expect(headers['content-language']).toBe('de');
  const best = body.events[0].bestOuting;
  expect(best).toMatchObject({ session: '2', bestLapSeconds: 101.4, notes: ['softer bar'] });
  expect(best.values).toMatchObject([{ item: 'tyre.hot-pressure', position: 'FL', value: 220, unit: 'kPa' }]);
  const services = body.ends.filter(({ of }: { of: string }) => of === 'service');
  expect(services.length).toBeGreaterThan(0);
  expect(services[0].on > '2026-03-01').toBe(true);
  // notes are for who wrote them
  const { body: staffs } = await t.api('organizer').get(records).expect(200);
  expect(staffs.events[0].bestOuting).toMatchObject({ session: '2', notes: [] });
  const refused = await api
    .post(`${address}/log`)
    .set('idempotency-key', 'not-of-this-kind')
    .send({ kind: 'note', note: 'x', bestLapSeconds: 90 })
    .expect(422);
  expect(refused.body.errors[0].pointer).toBe('/bestLapSeconds');
});
