import { randomUUID } from 'node:crypto';
import fc from 'fast-check';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { lookAlikeKind, lookKey } from '../../src/domain/look-alikes.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, gate, type TestEvent } from '../support/event.ts';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t);
});

const path = () => `/v1/events/${event.eventId}`;
async function decide(settings: { lookAlikes?: string; zeroTwins?: string }) {
  const { headers } = await t.api('organizer').get(path()).expect(200);
  const change = t
    .api('organizer')
    .patch(path())
    .set('if-match', headers['etag'] ?? '');
  return (await change.send(settings).expect(200)).body;
}
const body = (carNumber: string, more: object = {}) => ({
  carNumber,
  runGroupId: event.novice,
  entrant: { name: `Entrant of ${carNumber}` },
  vehicle: { description: `Car ${carNumber}`, colour: 'red' },
  ...more,
});
const enter = (carNumber: string, more: object = {}) =>
  t.api('organizer').post(`${path()}/entries`).send(body(carNumber, more));
const importCsv = (rows: readonly string[], query = '') =>
  t
    .api('organizer')
    .post(`${path()}/entries/import${query}`)
    .set('content-type', 'text/csv')
    .send(['carNumber,runGroup,entrantName,vehicle.description', ...rows].join('\n'));

describe('entering a number that looks like another', () => {
  test('warns and names it, without holding it up', async () => {
    expect((await enter('16').expect(201)).body.warnings).toBeUndefined();
    const { status, body: entered } = await enter('91');
    expect(status).toBe(201);
    expect(entered.warnings).toEqual([
      {
        carNumber: '16',
        vehicle: 'Car 16',
        colour: 'red',
        kind: 'characters',
        detail: 'Looks like 16 (Car 16, red), which is entered here.',
      },
    ]);
    const read = await t.api('organizer').get(`/v1/entries/${entered.entryId}`).expect(200);
    expect(read.body.warnings).toBeUndefined();
  });

  test('is refused where the organizer says so, and two that differ only by zeros unless he allows them', async () => {
    const own = await t.api('organizer').get(path()).expect(200);
    const { name, venueId, startsOn, endsOn, declarationsOpenAt, declarationsCloseAt } = own.body;
    const fresh = { name: `${name} 2`, venueId, startsOn, endsOn, declarationsOpenAt, declarationsCloseAt };
    const made = await t.api('organizer').post('/v1/events').send(fresh).expect(201);
    expect(made.body).toMatchObject({ lookAlikes: 'warn', zeroTwins: 'refuse' });

    await decide({ zeroTwins: 'refuse' });
    await enter('7').expect(201);
    const twin = await enter('07').expect(409);
    expect(twin.body).toMatchObject({
      code: 'car-number-looks-alike',
      lookAlikes: [{ carNumber: '7', kind: 'zeros' }],
      errors: [{ pointer: '/carNumber', code: 'looks-alike' }],
    });
    expect(twin.body.detail).toContain('7 (Car 7, red)');
    await enter('A1').expect(201);
    await enter('a1').expect(201);
    await decide({ lookAlikes: 'refuse' });
    await enter('Al').expect(409);
    await decide({ zeroTwins: 'allow' });
    await enter('007').expect(201);
  });

  test('a car that is shared keeps its number, also beside a twin', async () => {
    await enter('7').expect(201);
    await enter('07').expect(201);
    await decide({ lookAlikes: 'refuse', zeroTwins: 'refuse' });
    const again = await enter('07', { runGroupId: event.advanced, vehicle: undefined }).expect(201);
    expect(again.body.warnings).toMatchObject([{ carNumber: '7', kind: 'zeros' }]);
  });

  test('another number for an entry is judged the same, but not by the number it gives up', async () => {
    await decide({ zeroTwins: 'refuse' });
    await enter('6').expect(201);
    const own = await enter('12').expect(201);
    const change = (carNumber: string, etag: string) =>
      t.api('organizer').patch(`/v1/entries/${own.body.entryId}`).set('if-match', etag).send({ carNumber });
    await change('06', own.headers['etag'] ?? '').expect(409);
    const nine = await change('9', own.headers['etag'] ?? '').expect(200);
    expect(nine.body.warnings).toMatchObject([{ carNumber: '6', kind: 'characters' }]);
    const zero = await change('09', nine.headers['etag'] ?? '').expect(200);
    expect(zero.body.warnings).toMatchObject([{ carNumber: '6', kind: 'characters' }]);
  });

  test('two at once cannot both get in', async () => {
    await decide({ zeroTwins: 'refuse' });
    const answers = await Promise.all(['5', '05', '005', '0005'].map((number) => enter(number)));
    expect(answers.map(({ status }) => status).sort()).toEqual([201, 409, 409, 409]);
  });

  test('an import warns or refuses too, dry or not', async () => {
    await enter('B2').expect(201);
    for (const query of ['?dryRun=true', '']) {
      const { body: report } = await importCsv(['82,Novice,A,Coupé', '31,Novice,B,Saloon'], query).expect(200);
      expect(report.rows[0]).toMatchObject({ outcome: 'created', warnings: [{ carNumber: 'B2', kind: 'characters' }] });
      expect(report.rows[1].warnings).toBeUndefined();
    }
    await decide({ zeroTwins: 'refuse' });
    for (const query of ['?dryRun=true', '']) {
      const { body: refused } = await importCsv(['31,Novice,B,Saloon', '031,Novice,C,Estate'], query).expect(422);
      expect(refused.rows[1]).toMatchObject({
        outcome: 'rejected',
        errors: [{ column: 'carNumber', code: 'looks-alike' }],
      });
    }
  });
});

describe('the gate', () => {
  test('names the cars that a number can be taken for with every answer, without verdicts', async () => {
    const own = await createTestEntry(t, event, { carNumber: '16' });
    await accept(t, event, own);
    t.clock.set('2026-06-13T08:00:00Z');
    for (const number of ['91', '61', '016', '17']) await enter(number).expect(201);
    const go = await gate(t, event, '16');
    expect(go).toMatchObject({ admit: true, similar: [] });
    expect(go['lookAlikes']).toEqual([
      { carNumber: '016', vehicle: 'Car 016', colour: 'red', kind: 'zeros' },
      { carNumber: '91', vehicle: 'Car 91', colour: 'red', kind: 'characters' },
      { carNumber: '61', vehicle: 'Car 61', colour: 'red', kind: 'swapped' },
    ]);
    const stop = await gate(t, event, '61');
    expect(stop).toMatchObject({
      admit: false,
      lookAlikes: [{ carNumber: '91' }, { carNumber: '16', kind: 'swapped' }, { carNumber: '016' }],
    });
    const unknown = await gate(t, event, '19');
    expect(unknown).toMatchObject({ status: 'unknown', similar: expect.arrayContaining(['16']) });
    expect(unknown['lookAlikes']).toMatchObject([
      { carNumber: '16', kind: 'characters' },
      { carNumber: '61', kind: 'characters' },
      { carNumber: '016', kind: 'characters' },
      { carNumber: '91', kind: 'swapped' },
    ]);
  });

  test('compares exactly what was typed: a space before a number makes it another', async () => {
    await enter('7').expect(201);
    for (const typed of ['%207', '7%20', '%20%207']) {
      const answer = await gate(t, event, typed);
      expect(answer, typed).toMatchObject({ status: 'unknown', admit: false, carNumber: decodeURIComponent(typed) });
    }
    expect(await gate(t, event, '7')).toMatchObject({ status: 'no-declaration' });
    const check = {
      clientId: randomUUID(),
      carNumber: ' 7',
      askedAt: '2026-06-13T08:00:00Z',
      admit: false,
      status: 'unknown',
      snapshotSeq: 1,
    };
    await t
      .api('marshal')
      .post(`${path()}/gate/checks`)
      .send({ checks: [check] })
      .expect(200);
    const kept = await t.deps.db.prisma.gateCheck.findUnique({ where: { clientId: check.clientId } });
    expect(kept?.carNumber).toBe(' 7');
  });
});

test('numbers that look alike have the same key in the database, by which they are found', async () => {
  const number = fc.stringMatching(/^[0-9A-Za-z]{1,4}$/);
  const close = fc.stringMatching(/^[0oO16lLi9bB8sS5]{1,3}$/);
  const pairs = fc.sample(fc.tuple(fc.oneof(number, close), fc.oneof(number, close)), 20_000);
  const alike = pairs.filter(([a, b]) => lookAlikeKind(a, b) !== undefined);
  expect(alike.length).toBeGreaterThan(100);
  const { rows } = await t.deps.db.pool.query(
    'SELECT a, b FROM unnest($1::text[], $2::text[]) AS p (a, b) WHERE look_key(a) <> look_key(b)',
    [alike.map(([a]) => a), alike.map(([, b]) => b)],
  );
  expect(rows).toEqual([]);
  // An import looks by the same key, without the database.
  const numbers = [...new Set(pairs.flat())];
  const keys = await t.deps.db.pool.query<{ number: string; key: string }>(
    'SELECT n AS number, look_key(n) AS key FROM unnest($1::text[]) AS n',
    [numbers],
  );
  expect(keys.rows.map(({ key }) => key)).toEqual(keys.rows.map(({ number }) => lookKey(number)));
});

test('an id of the organizer stays with a person, is shown to the staff and goes with the person', async () => {
  const people = [
    { name: 'Tor Brekke', role: 'driver', personId: 'ARC-2107' },
    { name: 'Ines Haldorsen', role: 'crew' },
  ];
  const entrant = { name: 'Ines Haldorsen', personId: 'ARC/9', email: 'ines@example.org' };
  const { body: made } = await enter('42', { people, entrant }).expect(201);
  expect(made).toMatchObject({ people, entrant });
  const shown = await t.api('inspector').get(`/v1/entries/${made.entryId}`).expect(200);
  expect(shown.body).toMatchObject({ people, entrant: { name: 'Ines Haldorsen', personId: 'ARC/9' } });
  expect(shown.body.entrant.email).toBeUndefined();
  const idsOf = async () =>
    (await t.deps.db.prisma.entry.findUniqueOrThrow({ where: { id: made.entryId } })).personIds.toSorted();
  expect(await idsOf()).toEqual(['ARC-2107', 'ARC/9']);
  const bad = { people: [{ name: 'A', role: 'driver', personId: 'a b' }] };
  const refused = await enter('43', bad).expect(400);
  expect(refused.body.errors).toMatchObject([{ pointer: '/people/0/personId' }]);
  await t.api('organizer').post(`/v1/entries/${made.entryId}/withdraw`).send({}).expect(200);
  const erase = { reason: 'Asked for', force: true };
  await t.api('organizer').post(`/v1/entries/${made.entryId}/erase`).send(erase).expect(200);
  expect(await idsOf()).toEqual([]);
  const row = await t.deps.db.prisma.entry.findUniqueOrThrow({ where: { id: made.entryId } });
  expect(JSON.stringify([row.entrant, row.people])).not.toContain('ARC');
});
