import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { acceptCar, goodAnswers } from '../e2e/club.ts';
import { startEmbedded } from './embedded.ts';
import { type Field, setUpField } from './field.ts';
import { newRecord, type Recorded } from './history.ts';
import { newCaller, pause, type Try } from './request.ts';
import { hasSmallDisk } from './small-disk.ts';
import { becomesWell, FAILED_LINE, ORGANIZER, type System, withDatabase } from './system.ts';

const FULL_MS = 5000;
const RECOVERY_MS = 30_000;

interface Asked {
  submissions: { key: string; reply: Try }[];
  /** of the car that never passed, and of the one that did */
  barred: Try[];
  cleared: Try[];
}

// The service as a club runs it: database, photos and the server's own files on one disk, and no room left on it.
describe.skipIf(!hasSmallDisk())('while the disk is full', () => {
  let system: System;
  let record: Recorded;
  let field: Field;
  let asked: Asked;

  beforeAll(async () => {
    record = newRecord();
    system = await startEmbedded(record);
    expect(await becomesWell(system, 60_000)).toBe(true);
    field = await setUpField(system.bases, ORGANIZER, { cars: 2, inspectors: 0, chiefs: 0, marshals: 1 });
    await acceptCar(system.bases[0] ?? '', field.club, car(0));
    const filling = system.inject({ kind: 'disk-full', ms: FULL_MS });
    // The first block must be there before it is a full disk.
    await pause(1000);
    asked = await askUntil(filling);
    process.stdout.write(
      `full disk: ${[...record.statuses].map(([status, count]) => `${status} ${count}`).join(', ')}\n`,
    );
  }, 180_000);
  afterAll(() => system.close());

  const car = (place: number) => {
    const found = field.cars[place];
    if (found === undefined) throw new Error(`no car ${place}`);
    return found;
  };
  const submit = async (key: string): Promise<Try> => {
    const { entryId, entrant } = car(1);
    const body = { answers: goodAnswers() };
    const path = `/v1/entries/${entryId}/inspections`;
    return newCaller(system.bases, 0, record).once({ method: 'POST', path, token: entrant, body, key });
  };
  const lookUp = async (place: number): Promise<Try> => {
    const path = `/v1/events/${field.eventId}/gate/${car(place).carNumber}`;
    const token = field.crew.marshals[0]?.token ?? '';
    return newCaller(system.bases, 0, record).once({ method: 'GET', path, token });
  };

  async function askUntil(over: Promise<void>): Promise<Asked> {
    const ended = new AbortController();
    void over.finally(() => ended.abort()).catch(() => undefined);
    const all: Asked = { submissions: [], barred: [], cleared: [] };
    while (!ended.signal.aborted) {
      const key = randomUUID();
      all.submissions.push({ key, reply: await submit(key) });
      all.cleared.push(await lookUp(0));
      all.barred.push(await lookUp(1));
      await pause(20);
    }
    await over;
    return all;
  }

  const statuses = (replies: readonly Try[]) =>
    replies.map((reply) => (typeof reply === 'string' ? reply : reply.status));

  test('who wants to write is told to come back, in a problem document', () => {
    expect(statuses(asked.submissions.map(({ reply }) => reply))).toContain(503);
    expect(record.absurd).toEqual([]);
    expect(system.members.flatMap((member) => member.linesWith(FAILED_LINE))).toEqual([]);
  });

  test('nobody is let in who was not cleared', () => {
    const answers = asked.barred.flatMap((reply) => (typeof reply === 'object' && reply.status === 200 ? reply : []));
    expect(answers.filter(({ body }) => body['admit'] !== false)).toEqual([]);
    expect(asked.barred.length).toBeGreaterThan(3);
  });

  test('an answer about a cleared car is yes or none at all', () => {
    const answers = asked.cleared.flatMap((reply) => (typeof reply === 'object' && reply.status === 200 ? reply : []));
    expect(answers.filter(({ body }) => body['admit'] !== true)).toEqual([]);
  });

  test('it recovers by itself, and what was acknowledged is there, and nothing that was not asked for', async () => {
    expect(await becomesWell(system, RECOVERY_MS)).toBe(true);
    const again = randomUUID();
    expect(await submit(again)).toMatchObject({ status: 201 });
    expect(await lookUp(0)).toMatchObject({ status: 200, body: { admit: true } });
    const acknowledged = asked.submissions.filter(({ reply }) => typeof reply === 'object' && reply.status === 201);
    const sent = [...asked.submissions.map(({ key }) => key), again];
    const rows = await withDatabase(await system.databaseUrl(), async (client) => {
      const { rows } = await client.query<{ key: string; status: number; found: boolean }>(
        `SELECT key, status, EXISTS (SELECT FROM inspections WHERE id::text = body->>'inspectionId') AS found
           FROM idempotency WHERE key = ANY($1)`,
        [sent],
      );
      const { rows: counted } = await client.query<{ count: number }>(
        'SELECT count(*)::int AS count FROM inspections WHERE entry_id = $1',
        [car(1).entryId],
      );
      return { keys: rows.filter(({ status }) => status === 201), inspections: counted[0]?.count };
    });
    const kept = rows.keys.filter(({ found }) => found).map(({ key }) => key);
    expect(kept).toEqual(expect.arrayContaining([...acknowledged.map(({ key }) => key), again]));
    expect(rows.inspections).toBe(kept.length);
  });
});
