import { randomUUID } from 'node:crypto';
import { parse } from 'csv-parse/sync';
import fc from 'fast-check';
import { afterAll, beforeAll, beforeEach, describe, expect, onTestFinished, test } from 'vitest';
import { importJob } from '../../src/features/entries/import/import.job.ts';
import { Person } from '../../src/features/entries/schemas.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { JOB_CONTEXT } from '../support/jobs.ts';
import { arbVehicle } from '../support/arbitraries.ts';
import { accept, createTestEntry, createTestEvent, gate, type TestEvent } from '../support/event.ts';

const HEAD = 'carNumber,runGroup,entrantName,people,vehicle.description,vehicle.massKg';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp({ own: true });
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t);
});

const importCsv = (text: string | Buffer, query = '', type = 'text/csv') =>
  t.api('organizer').post(`/v1/events/${event.eventId}/entries/import${query}`).set('content-type', type).send(text);
/** Imports the good rows of a file, as the worker writes them after the answer; the whole answer about it. */
const importPartly = async (text: string, attempt = 1) => {
  const answer = await importCsv(text, '?partial=true');
  expect([answer.status, answer.body.state]).toEqual([202, 'waiting']);
  const { importId: taskId } = answer.body;
  expect(answer.headers['location']).toBe(`/v1/imports/${taskId}`);
  await importJob.handle(t.deps, { taskId }, { ...JOB_CONTEXT, attempt });
  return t.api('organizer').get(answer.headers['location'] as string);
};
const file = (...rows: string[]) => `${[HEAD, ...rows].join('\r\n')}\r\n`;
const exported = async () => {
  const response = await t.api('organizer').get(`/v1/events/${event.eventId}/entries/export`);
  expect(response.status).toBe(200);
  return response;
};
const recordsOf = (text: string): Record<string, string>[] => parse(text, { bom: true, columns: true });
const entries = async (query = '') => {
  const list = await t.api('organizer').get(`/v1/events/${event.eventId}/entries?limit=200${query}`);
  return list.body.entries as Record<string, unknown>[];
};
const actionsOf = async (entryId: string) => {
  const rows = await t.deps.db.prisma.history.findMany({ where: { entryId }, orderBy: { seq: 'asc' } });
  return rows.map((row) => row.action);
};
const outcomes = (body: { rows: { row: number; outcome: string }[] }) =>
  body.rows.map((row) => `${row.row} ${row.outcome}`);
const faults = (body: { rows: { row: number; errors?: { column?: string; code: string }[] }[] }) =>
  body.rows.flatMap(({ row, errors = [] }) => errors.map(({ column, code }) => `${row} ${column} ${code}`));

describe('import', () => {
  test('enters cars with exact numbers, people and vehicle, as creating them one by one does', async () => {
    const response = await importCsv(
      file(
        '7,Novice,Ines Haldorsen,driver:Ines Haldorsen; crew:Tor Brekke,"Club coupé 2.0, 2014",1210.5',
        '07,Advanced,Maren Oduya,,"Roadster, 1996",',
      ),
    );
    expect(response.status).toBe(200);
    expect(response.body).toMatchObject({ dryRun: false, created: 2, updated: 0, unchanged: 0, rejected: 0 });
    const [first, second] = await entries();
    expect(first).toMatchObject({
      carNumber: '7',
      runGroupId: event.novice,
      entrant: { name: 'Ines Haldorsen' },
      people: [
        { name: 'Ines Haldorsen', role: 'driver' },
        { name: 'Tor Brekke', role: 'crew' },
      ],
      vehicle: { description: 'Club coupé 2.0, 2014', massKg: 1210.5 },
      clearance: { admit: false, status: 'no-declaration' },
    });
    expect(second).toMatchObject({ carNumber: '07', people: [], vehicle: { description: 'Roadster, 1996' } });
    expect(response.body.rows.map((row: { entryId: string }) => row.entryId)).toEqual([
      first?.['entryId'],
      second?.['entryId'],
    ]);
    expect(await actionsOf(String(first?.['entryId']))).toEqual(['entry.created']);
    expect(await gate(t, event, '7')).toMatchObject({ admit: false, status: 'no-declaration' });
  });

  test('reports every bad row with its number, columns and reasons, and writes nothing', async () => {
    const response = await importCsv(
      file(
        '1,Novice,Good One,,Coupé,1200',
        '12345,Nowhere,,driver:,Coupé,heavy',
        '2,Novice,No Car,,,',
        '3,Novice,Too Heavy,pilot:A,Coupé,9999',
        '1,Novice,Good One,,Coupé,1200',
        ',Novice,No Number,,Coupé,1200',
      ),
    );
    expect(response.status).toBe(422);
    expect(response.headers['content-type']).toMatch(/^application\/problem\+json/);
    expect(response.body).toMatchObject({ code: 'import-not-acceptable', created: 1, rejected: 5 });
    expect(response.body.detail).toMatch(/^Nothing was written\. In row 3: /);
    expect(outcomes(response.body)).toEqual([
      '2 created',
      '3 rejected',
      '4 rejected',
      '5 rejected',
      '6 rejected',
      '7 rejected',
    ]);
    expect(response.body.rows[0].entryId).toBeUndefined();
    expect(faults(response.body).toSorted()).toEqual([
      '3 carNumber invalid-format',
      '3 entrantName missing',
      '3 people too-small',
      '3 runGroup unknown-reference',
      '3 vehicle.massKg not-a-number',
      '4 vehicle.description missing',
      '5 people invalid-value',
      '5 vehicle.massKg too-big',
      '6 carNumber duplicate-row',
      '7 carNumber missing',
    ]);
    expect(await entries()).toEqual([]);
  });

  test('writes the good rows with partial=true and names the others', async () => {
    const response = await importPartly(
      file('1,Novice,Good One,,Coupé,1200', '2,Nowhere,Bad,,Coupé,', '3,Advanced,Good Two,,Roadster,'),
    );
    expect(response.status).toBe(200);
    expect(response.body).toMatchObject({ state: 'done', done: 3, total: 3, created: 2, rejected: 1 });
    expect(outcomes(response.body)).toEqual(['2 created', '3 rejected', '4 created']);
    expect(faults(response.body)).toEqual(['3 runGroup unknown-reference']);
    expect(response.body.rows[1].errors[0].detail).toContain('Novice, Advanced');
    expect((await entries()).map((entry) => entry['carNumber'])).toEqual(['1', '3']);
  });

  test.each(['?dryRun=true', '?dryRun=true&partial=true'])(
    '%s tells what would happen and writes nothing',
    async (query) => {
      const entry = await createTestEntry(t, event, { carNumber: '5' });
      const text = file('5,Novice,Somebody Else,,Coupé,', '6,Novice,New One,,Coupé,');
      const response = await importCsv(text, query);
      expect(response.status).toBe(200);
      expect(response.body).toMatchObject({ dryRun: true, created: 1, updated: 1 });
      expect(response.body.rows).toEqual([
        {
          row: 2,
          carNumber: '5',
          outcome: 'updated',
          entryId: entry.entryId,
          changed: ['entrantName', 'vehicle.description'],
        },
        { row: 3, carNumber: '6', outcome: 'created' },
      ]);
      expect(await entries()).toMatchObject([{ carNumber: '5', entrant: { name: 'Entrant of 5' } }]);
      expect(await actionsOf(entry.entryId)).toEqual(['entry.created']);
    },
  );

  test('refuses a bad file in a dry run too, unless it is partial', async () => {
    const text = file('1,Nowhere,A,,Coupé,', '2,Novice,B,,Coupé,');
    expect((await importCsv(text, '?dryRun=true')).status).toBe(422);
    const partial = await importCsv(text, '?dryRun=true&partial=true');
    expect(outcomes(partial.body)).toEqual(['2 rejected', '3 created']);
    expect(await entries()).toEqual([]);
  });

  test('names what is wrong with the header, in partial mode too', async () => {
    const response = await importCsv('carNumber,clas\n1,Novice\n', '?partial=true');
    expect(response.status).toBe(422);
    expect(response.body.rows).toMatchObject([{ row: 1, outcome: 'rejected' }]);
    expect(faults(response.body)).toEqual(['1 clas unknown-column', '1 runGroup missing-column']);
  });

  test('reads a semicolon file with a decimal comma', async () => {
    const text =
      '\uFEFFcarNumber;runGroup;entrantName;vehicle.description;vehicle.massKg\n9;Novice;A, B;Coupé;1210,5\n';
    expect((await importCsv(text, '', 'text/csv; charset=UTF-8; header=present')).status).toBe(200);
    expect(await entries()).toMatchObject([{ entrant: { name: 'A, B' }, vehicle: { massKg: 1210.5 } }]);
  });

  test('that fails at a row keeps nothing, or with partial=true all others', async () => {
    await t.deps.db.pool.query(`
      CREATE FUNCTION fail_for_test() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE 'made to fail'; END $$;
      CREATE TRIGGER fail_for_test BEFORE INSERT ON entries FOR EACH ROW WHEN (NEW.car_number = 'FAIL')
        EXECUTE FUNCTION fail_for_test()`);
    onTestFinished(async () => {
      await t.deps.db.pool.query('DROP FUNCTION fail_for_test CASCADE');
    });
    const text = file('1,Novice,A,,Coupé,', 'FAIL,Novice,B,,Coupé,', '3,Novice,C,,Coupé,');
    expect((await importCsv(text)).status).toBe(500);
    expect(await entries()).toEqual([]);
    await expect(importPartly(text)).rejects.toThrow('made to fail');
    expect((await entries()).map((entry) => entry['carNumber'])).toEqual(['1']);
    const partial = await importPartly(text, importJob.attempts);
    expect(outcomes(partial.body)).toEqual(['2 unchanged', '3 rejected', '4 created']);
    expect(faults(partial.body)).toEqual(['3 undefined not-written']);
    expect((await entries()).map((entry) => entry['carNumber'])).toEqual(['1', '3']);
  });

  test('by several at once enters each car once', async () => {
    const rows = Array.from({ length: 30 }, (_, i) => `${i},Novice,Entrant ${i},,Coupé,`);
    const answers = await Promise.all([
      importCsv(file(...rows)),
      importCsv(file(...rows.toReversed())),
      importPartly(file(...rows)),
    ]);
    expect(answers.map((answer) => answer.status)).toEqual([200, 200, 200]);
    const created = answers.map((answer) => answer.body.created as number);
    expect(created.reduce((sum, count) => sum + count, 0)).toBe(30);
    expect(await entries()).toHaveLength(30);
  });

  test('takes 500 rows in a few seconds, in and again', async () => {
    const rows = Array.from({ length: 500 }, (_, i) => `${i},Novice,Entrant ${i},driver:Driver ${i},Coupé ${i},1200`);
    const started = performance.now();
    expect((await importCsv(file(...rows))).body).toMatchObject({ created: 500, rejected: 0 });
    expect((await importCsv(file(...rows))).body).toMatchObject({ created: 0, unchanged: 500 });
    // Generous, for a machine that does other things too; alone it took under 4 s for both.
    expect(performance.now() - started).toBeLessThan(100_000);
  });
});

describe('importing again', () => {
  test('changes exactly what the file says otherwise', async () => {
    await importCsv(file('1,Novice,Ines,driver:Ines,Coupé,1200', '2,Novice,Tor,,Roadster,900'));
    const response = await importCsv(
      file('1,Novice,Ines,driver:Ines; crew:Tor,Coupé,1250', '2,Novice,Tor,,Roadster,900.0'),
    );
    expect(response.status).toBe(200);
    expect(outcomes(response.body)).toEqual(['2 updated', '3 unchanged']);
    expect(response.body.rows[0].changed).toEqual(['people', 'vehicle.massKg']);
    const [first, second] = await entries();
    expect(first).toMatchObject({
      people: [
        { name: 'Ines', role: 'driver' },
        { name: 'Tor', role: 'crew' },
      ],
      vehicle: { massKg: 1250 },
    });
    expect(await actionsOf(String(first?.['entryId']))).toEqual(['entry.created', 'entry.updated']);
    expect(await actionsOf(String(second?.['entryId']))).toEqual(['entry.created']);
  });

  test('clears a value whose cell is empty, and leaves what the file has no column for', async () => {
    await importCsv(file('1,Novice,Ines,driver:Ines,Coupé,1200'));
    const response = await importCsv(
      'carNumber,runGroup,people,vehicle.description,vehicle.massKg\n1,Novice,,Coupé,\n',
    );
    expect(response.body.rows[0].changed).toEqual(['people', 'vehicle.massKg']);
    const [entry] = await entries();
    expect(entry).toMatchObject({ entrant: { name: 'Ines' }, people: [] });
    expect(entry?.['vehicle']).toEqual({ description: 'Coupé' });
  });

  test('voids a declaration exactly when something of the car changes that a rule used', async () => {
    const entry = await createTestEntry(t, event, { carNumber: '42' });
    await accept(t, event, entry);
    t.clock.set('2026-06-13T08:00:00Z');
    onTestFinished(() => t.clock.set(TEST_NOW));
    expect(await gate(t, event, '42')).toMatchObject({ admit: true });
    const csv = (mass: string, brake: string) =>
      `carNumber,runGroup,people,vehicle.description,vehicle.massKg,vehicle.rotor.rear\n42,Novice,crew:Tor,"Club coupé 2.0, 2014",${mass},${brake}\n`;
    for (const mass of ['', '1300']) {
      expect((await importCsv(csv(mass, ''))).body).toMatchObject({ updated: 1 });
      expect(await gate(t, event, '42')).toMatchObject({ admit: true });
    }
    expect((await importCsv(csv('1300', 'drum'))).body).toMatchObject({ updated: 1 });
    expect(await gate(t, event, '42')).toMatchObject({ admit: false });
    expect((await actionsOf(entry.entryId)).slice(-2)).toEqual(['entry.updated', 'declaration.voided']);
  });

  test('does not change a withdrawn entry, but does not mind it either', async () => {
    const entry = await createTestEntry(t, event, { carNumber: '13' });
    await t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`).send({}).expect(200);
    const { text } = await exported();
    expect(recordsOf(text)).toMatchObject([{ carNumber: '13', status: 'withdrawn' }]);
    expect((await importCsv(text)).body).toMatchObject({ unchanged: 1 });
    const response = await importCsv(text.replace('Entrant of 13', 'Another'));
    expect(response.status).toBe(422);
    expect(faults(response.body)).toEqual(['2 carNumber withdrawn']);
  });
});

describe('a shared car', () => {
  test('is two rows of which one describes it, in either order', async () => {
    const response = await importCsv(
      file(
        '42,Advanced,Tor,driver:Tor,,',
        '42,Novice,Ines,driver:Ines,Coupé,1200',
        '43,Novice,A,,Roadster,',
        '43,Advanced,B,,Roadster,',
      ),
    );
    expect(response.body).toMatchObject({ created: 4 });
    const found = await entries();
    const vehicles = found.map((entry) => entry['vehicleId']);
    expect(vehicles[0]).toBe(vehicles[1]);
    expect(vehicles[2]).toBe(vehicles[3]);
    expect(vehicles[0]).not.toBe(vehicles[2]);
    expect(found.every((entry) => entry['shared'])).toBe(true);
    expect(found[0]).toMatchObject({ entrant: { name: 'Tor' }, vehicle: { description: 'Coupé', massKg: 1200 } });
  });

  test('is changed by both rows saying the same, or by one of them', async () => {
    await importCsv(file('42,Novice,Ines,,Coupé,1200', '42,Advanced,Tor,,,'));
    const both = await importCsv(file('42,Novice,Ines,,Coupé,1250', '42,Advanced,Tor,,Coupé,1250'));
    expect(outcomes(both.body)).toEqual(['2 updated', '3 unchanged']);
    const one = await importCsv(file('42,Novice,Ines,,,', '42,Advanced,Tor,,Coupé,1300'));
    expect(outcomes(one.body)).toEqual(['2 unchanged', '3 updated']);
    expect((await entries()).map((entry) => (entry['vehicle'] as { massKg: number }).massKg)).toEqual([1300, 1300]);
  });

  test('is refused when its rows contradict each other, or the car that is known', async () => {
    const two = await importCsv(file('42,Novice,Ines,,Coupé,1200', '42,Advanced,Tor,,Coupé,1250'));
    expect(two.status).toBe(422);
    expect(faults(two.body)).toEqual(['3 vehicle.massKg shared-car-differs']);
    await importCsv(file('42,Novice,Ines,,Coupé,1200'));
    const late = await importCsv(file('42,Advanced,Tor,,Roadster,1200'));
    expect(faults(late.body)).toEqual(['2 vehicle.description shared-car-differs']);
    expect((await importCsv(file('42,Advanced,Tor,,Coupé,1200'))).body).toMatchObject({ created: 1 });
  });
});

describe('export', () => {
  test('is an attachment in RFC 4180, UTF-8 with a byte order mark', async () => {
    await importCsv(
      file('7,Novice,Ines Haldorsen,driver:Ines Haldorsen,"Coupé ""S"", 2014",1210', '07,Advanced,Tor,,Roadster,'),
    );
    const { headers, text } = await exported();
    expect(headers['content-type']).toBe('text/csv; charset=utf-8; header=present');
    expect(headers['content-disposition']).toBe('attachment; filename="entries-2026-06-13.csv"');
    expect(text.startsWith('\uFEFFcarNumber,runGroup,entrantName,')).toBe(true);
    expect(text.replaceAll('\r\n', '')).not.toMatch(/[\r\n]/);
    expect(text).toContain('"Coupé ""S"", 2014"');
    expect(recordsOf(text)).toMatchObject([
      { carNumber: '7', runGroup: 'Novice', people: 'driver:Ines Haldorsen', 'vehicle.massKg': '1210' },
      { carNumber: '07', runGroup: 'Advanced', people: '', status: 'no-declaration' },
    ]);
    expect(recordsOf(text)[0]?.['reason']).toBe('No declaration has been submitted.');
  });

  test('guards text against formulas, leaves numbers, and comes back as it was', async () => {
    const entrant = { name: '=HYPERLINK("x")', phone: '+49 151 12345' };
    const vehicle = { description: '-Coupé', colour: "'=red", baseline: { camberDeg: { FL: -2.5 } } };
    await createTestEntry(t, event, { carNumber: '1', entrant, vehicle });
    const { text } = await exported();
    expect(recordsOf(text)).toMatchObject([
      {
        entrantName: `'=HYPERLINK("x")`,
        entrantPhone: "'+49 151 12345",
        'vehicle.description': "'-Coupé",
        'vehicle.colour': "''=red",
        'vehicle.baseline.camberDeg.FL': '-2.5',
      },
    ]);
    expect((await importCsv(text)).body).toMatchObject({ unchanged: 1, updated: 0, created: 0 });
    const novice = event;
    event = await createTestEvent(t);
    expect((await importCsv(text)).body).toMatchObject({ created: 1 });
    expect(await entries()).toMatchObject([{ entrant, vehicle }]);
    event = novice;
  });

  test('imported again changes nothing, whatever the names and cars; imported elsewhere it is the same list', async () => {
    const arbName = fc
      .string({
        unit: fc.oneof(fc.constantFrom(...'=+-@\'\\;|:," '), fc.string({ unit: 'grapheme', maxLength: 1 })),
        minLength: 1,
        maxLength: 30,
      })
      .map((name) => name.trim())
      .filter((name) => Person.shape.name.safeParse(name).success);
    const arbEntry = fc.record({
      runGroup: fc.constantFrom('novice' as const, 'advanced' as const),
      entrant: fc.record({ name: arbName, phone: arbName }),
      people: fc.array(
        fc.record(
          {
            name: arbName,
            role: fc.constantFrom('driver', 'crew', 'preparer'),
            personId: fc.constantFrom('ARC-7', '12/3'),
          },
          { requiredKeys: ['name', 'role'] },
        ),
        {
          maxLength: 3,
        },
      ),
      vehicle: fc.tuple(arbVehicle(), arbName).map(([vehicle, colour]) => ({ ...vehicle, colour })),
    });
    await fc.assert(
      fc.asyncProperty(fc.array(arbEntry, { minLength: 1, maxLength: 12 }), async (list) => {
        event = await createTestEvent(t);
        for (const [i, { runGroup, ...entry }] of list.entries()) {
          await createTestEntry(t, event, { ...entry, carNumber: String(i), runGroupId: event[runGroup] });
        }
        const before = await entries();
        const { text } = await exported();
        expect((await importCsv(text)).body).toMatchObject({ created: 0, updated: 0, unchanged: list.length });
        expect(await entries()).toEqual(before);
        event = await createTestEvent(t);
        expect((await importCsv(text)).body).toMatchObject({ created: list.length, rejected: 0 });
        expect((await exported()).text).toBe(text);
      }),
      { numRuns: 15 },
    );
  });
});

describe('requests', () => {
  const UNKNOWN = randomUUID();

  test.each(['application/json', 'text/plain', 'text/csv; charset=iso-8859-1'])(
    '%s is refused with 415',
    async (type) => {
      const response = await importCsv('{}', '', type);
      expect(response.status).toBe(415);
      expect(response.body.code).toBe('unsupported-media-type');
    },
  );

  test('a file that is not UTF-8 is refused with its line', async () => {
    const response = await importCsv(
      Buffer.from(file('1,Novice,Ines,,Coupe,', '2,Novice,M\u00fcller,,Coupe,'), 'latin1'),
    );
    expect(response.status).toBe(400);
    expect(response.body.errors).toMatchObject([{ code: 'not-utf-8', in: 'body' }]);
    expect(response.body.detail).toContain('Line 3');
  });

  test('a body at the limit is read, one byte more is refused with 413', async () => {
    const limit = 2 * 1024 * 1024;
    const start = file('1,Novice,Ines,,Coupé,');
    const filler = (bytes: number) => start + '\n'.repeat(bytes - Buffer.byteLength(start));
    expect((await importCsv(filler(limit), '?dryRun=true')).status).toBe(200);
    const response = await importCsv(filler(limit + 1), '?dryRun=true');
    expect(response.status).toBe(413);
    expect(response.body.code).toBe('body-too-large');
  });

  test('an empty body, a missing one and an unknown parameter are named', async () => {
    expect(faults((await importCsv('')).body)).toEqual(['1 carNumber missing-column', '1 runGroup missing-column']);
    const missing = await t.api('organizer').post(`/v1/events/${event.eventId}/entries/import`);
    expect(missing.status).toBe(400);
    const parameter = await importCsv(file(), '?dryrun=true');
    expect(parameter.status).toBe(400);
    expect(parameter.body.errors).toMatchObject([{ pointer: '/dryrun', in: 'query' }]);
  });

  test('an unknown event is not found', async () => {
    const api = t.api('organizer');
    expect((await api.get(`/v1/events/${UNKNOWN}/entries/export`)).status).toBe(404);
    const post = api.post(`/v1/events/${UNKNOWN}/entries/import`).set('content-type', 'text/csv');
    expect((await post.send(file())).status).toBe(404);
  });

  test('both are for organizers', async () => {
    for (const role of ['chief', 'inspector', 'marshal'] as const) {
      const path = `/v1/events/${event.eventId}/entries`;
      expect((await t.api(role).get(`${path}/export`)).status).toBe(403);
      expect((await t.api(role).post(`${path}/import`).set('content-type', 'text/csv').send(file())).status).toBe(403);
    }
    expect((await t.api(undefined).get(`/v1/events/${event.eventId}/entries/export`)).status).toBe(401);
  });
});
