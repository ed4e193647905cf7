import { readdirSync, readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Response } from 'supertest';
import { startTestApp, type TestApp } from '../support/app.ts';
import {
  accept,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  submit,
  type TestEvent,
} from '../support/event.ts';

// Who wrote the files is said in tests/unit/features/entries/list/read-list.test.ts.
const FOLDER = new URL('../fixtures/lists/', import.meta.url);
const read = (name: string) => readFileSync(new URL(name, FOLDER));

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp({ own: true });
});
afterAll(() => t.close());

const post = (path: string, bytes: Buffer, more: object = {}) =>
  t
    .api('organizer')
    .post(`/v1/events/${event.eventId}/entries/lists${path}`)
    .send({ file: bytes.toString('base64'), ...more });

/** Reads an answer as bytes, whatever its type. */
const binary = (response: Response, done: (error: Error | null, body: Buffer) => void) => {
  const parts: Buffer[] = [];
  response.on('data', (part: Buffer) => parts.push(Buffer.from(part)));
  response.on('end', () => done(null, Buffer.concat(parts)));
};

const groups = [
  { written: 'Einsteiger', group: 'Novice' },
  { written: 'Fortgeschrittene', group: 'Advanced' },
  { written: 'Könner', group: 'Advanced' },
];
const reading = { ignoreOthers: true, group: 'Novice', groups };

describe('lists of other programs', () => {
  test('each file of ten is tried, taken, and changes nothing the second time', async () => {
    const names = readdirSync(FOLDER).toSorted();
    expect(names.length).toBe(10);
    for (const name of names) {
      const bytes = read(name);
      event = await createTestEvent(t);
      const more = { reading, ...(name.startsWith('10') ? { partial: true } : {}) };
      const look = await post('/look', bytes, { reading });
      expect([name, look.status]).toEqual([name, 200]);
      const tried = await post('', bytes, { ...more, dryRun: true });
      expect([name, tried.status, tried.body.detail]).toEqual([name, 200, undefined]);
      expect(tried.body.created + tried.body.rejected).toBe(look.body.rows);
      expect((await gate(t, event, tried.body.rows[0].carNumber)).status).toBe('unknown');
      if (name.startsWith('10')) continue;
      const done = await post('', bytes, { reading, partial: false });
      expect([name, done.status, done.body.created]).toEqual([name, 200, look.body.rows]);
      const again = await post('', bytes, { reading });
      expect([name, again.body.created, again.body.updated, again.body.unchanged]).toEqual([
        name,
        0,
        0,
        look.body.rows,
      ]);
    }
  });

  test('a column nobody spoken of refuses the file; what was said is known next time', async () => {
    const other = await createTestEvent(t);
    const send = (more: object) =>
      t
        .api('organizer')
        .post(`/v1/events/${other.eventId}/entries/lists`)
        .send({ file: read('04-sep-line.csv').toString('base64'), ...more });
    const list = Buffer.from('Startnummer;Wer;Gruppe;Fahrzeug\r\n5;Kaja Öst;Profis;Kombi\r\n').toString('base64');
    const refused = await send({ file: list });
    expect([refused.status, refused.body.rows[0].errors[0]]).toMatchObject([
      422,
      { column: 'Wer', code: 'unknown-column' },
    ]);
    const said = { columns: [{ at: 2, to: 'entrantName' }], groups: [{ written: 'Profis', group: 'Advanced' }] };
    expect((await send({ file: list, reading: said })).body).toMatchObject({ created: 1 });
    const next = Buffer.from('Startnummer;wer;Gruppe;Fahrzeug\r\n6;Per Åse;profis;Kombi\r\n').toString('base64');
    expect((await send({ file: next, dryRun: true })).body).toMatchObject({ created: 1, rejected: 0 });
  });

  test('letters that were lost are refused wherever a name is written', async () => {
    event = await createTestEvent(t);
    const refused = await post('', read('10-lost-letters.csv'), { reading });
    expect(refused.status).toBe(422);
    expect(refused.body.rows[0].errors[0].code).toBe('decoded-wrongly');
    const entry = { carNumber: '971', runGroupId: event.novice, vehicle: { description: 'Coupé' } };
    const path = `/v1/events/${event.eventId}/entries`;
    const byName = await t
      .api('organizer')
      .post(path)
      .send({ ...entry, entrant: { name: 'J\uFFFDrgen' } });
    const byCar = await t
      .api('organizer')
      .post(path)
      .send({ ...entry, entrant: { name: 'Jürgen' }, vehicle: { description: 'Coup\uFFFD' } });
    expect([byName.status, byName.body.errors[0].pointer]).toEqual([400, '/entrant/name']);
    expect([byCar.status, byCar.body.errors[0].pointer]).toEqual([400, '/vehicle/description']);
  });
});

describe('tables to take along', () => {
  const take = (path: string) =>
    t.api('organizer').get(`/v1/events/${event.eventId}/exports${path}`).buffer(true).parse(binary);

  test('all columns of the entries come back without a change; formulas are guarded in both formats', async () => {
    event = await createTestEvent(t);
    const entry = await createTestEntry(t, event, { carNumber: '07', entrant: { name: '=1+1 Öst' } });
    const { body } = await t.api('organizer').get(`/v1/events/${event.eventId}/exports`);
    const tables = body.tables as { kind: string; columns: { name: string }[] }[];
    expect(tables.map(({ kind }) => kind)).toEqual(['entries', 'findings', 'sign-offs']);
    const all = tables[0]?.columns.map(({ name }) => name).join(',');
    const csv = await take(`/entries?columns=${all}`);
    expect(csv.headers['content-type']).toContain('text/csv');
    expect(csv.body.toString()).toContain("'=1+1 Öst");
    expect((await post('/look', csv.body)).body.ours).toBe(true);
    const again = await post('', csv.body, { reading: { emptyCells: 'clear', ignoreOthers: true } });
    expect([again.status, again.body.unchanged, again.body.detail]).toEqual([200, 1, undefined]);
    const book = await take(`/entries?format=xlsx&columns=carNumber,runGroup,entrantName`);
    const read = await post('/look', book.body);
    expect(read.body.columns.map(({ samples }: { samples: string[] }) => samples[0])).toEqual([
      '07',
      'Novice',
      "'=1+1 Öst",
    ]);
    expect(entry.carNumber).toBe('07');
  });

  test('findings are what is wrong now, sign-offs what was decided', async () => {
    event = await createTestEvent(t);
    const bad = await createTestEntry(t, event, { carNumber: '31' });
    await submit(t, bad, { ...GOOD_ANSWERS, 'brake.pedal': 'long' });
    const good = await createTestEntry(t, event, { carNumber: '32' });
    await accept(t, event, good);
    const findings = (await take('/findings?columns=carNumber,counts,title,fix')).body.toString();
    expect(findings).toMatch(/31,bar,/);
    const signed = (await take('/sign-offs')).body.toString();
    expect(signed).toMatch(/32,Novice,/);
    expect(signed).not.toMatch(/31,Novice,/);
  });

  test('a column that there is not is named', async () => {
    const refused = await t
      .api('organizer')
      .get(`/v1/events/${event.eventId}/exports/findings?columns=carNumber,phone`);
    expect([refused.status, refused.body.errors[0].code]).toEqual([400, 'unknown-column']);
  });
});
