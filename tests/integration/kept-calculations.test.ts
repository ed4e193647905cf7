import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { CALCULATIONS } from '../../src/domain/trade/calculations.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEntry, createTestEvent, submit, type TestEntry, type TestEvent } from '../support/event.ts';

let t: TestApp;
let event: TestEvent;
let entry: TestEntry;
let vehicleId: string;
const AGE = { name: 'tyre-age', body: { code: '2324', onDay: '2026-06-13' } };

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
  entry = await createTestEntry(t, event);
  await submit(t, entry);
  vehicleId = (await t.api('organizer').get(`/v1/entries/${entry.entryId}`)).body.vehicleId;
});
afterAll(() => t.close());

const kept = () => `/v1/vehicles/${vehicleId}/calculations`;
const keep = (body: object = AGE) => t.api(entry.entrant).post(kept()).send(body);
const shared = (secret: string) => t.api(undefined).post('/v1/shared-calculations').send({ secret });

describe('what is known of a car', () => {
  test('is its record alone without an entry, and more with one', async () => {
    const path = `/v1/vehicles/${vehicleId}/calculation-inputs`;
    const alone = (await t.api(entry.entrant).get(path)).body.inputs;
    const whole = (await t.api(entry.entrant).get(`${path}?entryId=${entry.entryId}`)).body.inputs;
    expect(alone['tyre-age']).toBeUndefined();
    expect(whole['tyre-age']).toMatchObject({ onDay: '2026-06-14' });
    expect(Object.keys(whole).filter((name) => !CALCULATIONS.some((one) => one.name === name))).toEqual([]);
  });

  test('is that of the own entry only', async () => {
    const other = await createTestEntry(t, event);
    const path = `/v1/vehicles/${vehicleId}/calculation-inputs?entryId=${other.entryId}`;
    expect((await t.api(entry.entrant).get(path)).status).toBe(404);
    expect((await t.api('organizer').get(path)).status).toBe(404);
    expect((await t.api(other.entrant).get(kept())).status).toBe(404);
  });
});

describe('a computation that is kept with a car', () => {
  test('is listed newest first, until it is taken away', async () => {
    const first = (await keep()).body;
    const second = (await keep({ ...AGE, body: { ...AGE.body, code: '0125' } })).body;
    const list = (await t.api('inspector').get(kept())).body.kept as { keptId: string; body: object }[];
    expect(list.slice(0, 2).map(({ keptId }) => keptId)).toEqual([second.keptId, first.keptId]);
    expect(list[0]).toMatchObject({ keptBy: 'owner', isShared: false, body: { code: '0125' } });
    expect((await t.api(entry.entrant).delete(`${kept()}/${second.keptId}`)).status).toBe(204);
    expect((await t.api(entry.entrant).delete(`${kept()}/${second.keptId}`)).status).toBe(404);
  });

  test.each([
    ['no such computation', { name: 'tyre-weight', body: {} }, '/name'],
    [
      'a body that its schema does not read',
      { name: 'tyre-age', body: { code: 7, onDay: '2026-06-13' } },
      '/body/code',
    ],
  ])('is refused where it is %s', async (_, body, pointer) => {
    const answer = await keep(body);
    expect(answer.status).toBe(422);
    expect(answer.body.errors[0].pointer).toBe(pointer);
  });

  test('is refused where it cannot be worked out', async () => {
    const answer = await keep({ name: 'tyre-age', body: { code: '6024', onDay: '2026-06-13' } });
    expect([answer.status, answer.body.code]).toEqual([422, 'calculation-refused']);
  });

  test('is shown by its link, the newest one, until the link ends', async () => {
    const { keptId } = (await keep()).body;
    const link = `${kept()}/${keptId}/link`;
    const old = (await t.api(entry.entrant).post(link)).body.secret;
    const { secret } = (await t.api(entry.entrant).post(link)).body;
    expect((await shared(old)).status).toBe(401);
    const seen = await shared(secret);
    expect(seen.body).toMatchObject({ name: 'tyre-age', body: AGE.body, worked: { result: { week: 23, year: 2024 } } });
    expect(JSON.stringify(seen.body)).not.toContain(vehicleId);
    expect((await t.api('organizer').get(kept())).body.kept[0]).toMatchObject({ keptId, isShared: true });
    expect((await t.api(entry.entrant).delete(link)).status).toBe(204);
    expect((await shared(secret)).status).toBe(401);
  });

  test('has room for sixty of one car, also when they come at once', async () => {
    const before = (await t.api('organizer').get(kept())).body.kept.length as number;
    const answers = await Promise.all(Array.from({ length: 64 - before }, () => keep()));
    const good = answers.filter(({ status }) => status === 201).length;
    expect(good).toBe(60 - before);
    expect(answers.filter(({ status }) => status === 422)).toHaveLength(4);
  });
});
