import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import pg from 'pg';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import {
  type DataFolder,
  killServers,
  makeDataFolder,
  type RunningServer,
  startServer,
} from '../support/server-process.ts';
import {
  acceptCar,
  askGate,
  type Car,
  claimCar,
  type Club,
  enterCar,
  goodAnswers,
  saveDraft,
  setUpClub,
  signOff,
  submit,
  thinPadAnswers,
} from './club.ts';
import { type Answer, send, sendOk } from './http.ts';

const TOKEN = 'organizer-token-for-the-main-job';

let folder: DataFolder;
let server: RunningServer;
let club: Club;

/** Rows in the log of lookups for an event, read from the server's own database. */
async function countChecks(eventId: string): Promise<number> {
  const password = (await readFile(join(folder.path, 'postgres.password'), 'utf8')).trim();
  const port = Number(server.logLine('embedded database started')?.['port']);
  const client = new pg.Client({ host: '127.0.0.1', port, user: 'gridworthy', database: 'gridworthy', password });
  await client.connect();
  try {
    const text = 'SELECT count(*)::int AS count FROM gate_checks WHERE event_id = $1';
    const { rows } = await client.query<{ count: number }>(text, [eventId]);
    return rows[0]?.count ?? -1;
  } finally {
    await client.end();
  }
}

const start = () => startServer({ DATA_DIR: folder.path, ORGANIZER_TOKEN: TOKEN, RATE_LIMIT_PER_MINUTE: '100000' });

beforeAll(async () => {
  folder = await makeDataFolder();
  server = await start();
  club = await setUpClub(server.base, TOKEN);
});
afterAll(async () => {
  await killServers();
  await folder.remove();
});

describe('from declaration to gate, over the wire', () => {
  test('a good car ends at admit', async () => {
    const car = await enterCar(server.base, club, '7');
    expect(await askGate(server.base, club, '7')).toEqual({ admit: false, status: 'no-declaration' });
    // The number is exact text: another car of nearly that number is not this one.
    expect(await askGate(server.base, club, '07')).toEqual({ admit: false, status: 'unknown' });

    const draft = await saveDraft(server.base, car);
    expect(draft['verdict']).toBe('clean');
    const submitted = await submit(server.base, car);
    expect(submitted.status).toBe(201);
    expect(submitted.body).toMatchObject({ verdict: 'clean', ticket: { place: 1 } });
    expect(await askGate(server.base, club, '7')).toEqual({ admit: false, status: 'in-line' });

    const claimId = await claimCar(server.base, club, car);
    const signed = await signOff(server.base, club, claimId, { decision: 'accept', stickerNumber: '1' });
    expect(signed.status).toBe(201);
    expect(await askGate(server.base, club, '7')).toEqual({ admit: true, status: 'clear' });
  });

  test('a car with one thin pad does not: it is told which pad and what to do, and gets no ticket', async () => {
    const car = await enterCar(server.base, club, '8');
    const { status, body } = await submit(server.base, car, thinPadAnswers());
    expect(status).toBe(201);
    expect(body).toMatchObject({ verdict: 'barred', ticket: null });
    const findings = body['findings'] as { result: string; position?: string; fix?: string; measured?: unknown }[];
    expect(findings.filter(({ result }) => result === 'not-met')).toMatchObject([
      { position: 'FL.in', measured: { value: 3.5, unit: 'mm' }, fix: 'Fit new pads on both sides of the axle.' },
    ]);
    expect(await askGate(server.base, club, '8')).toEqual({ admit: false, status: 'barred' });
  });
});

describe('SIGTERM under load', () => {
  test('the stop is decent, and everything that was acknowledged is there afterwards', {
    timeout: 180_000,
  }, async () => {
    const cars: Car[] = [];
    for (let number = 200; number < 260; number += 1) cars.push(await enterCar(server.base, club, String(number)));
    const acknowledged: { car: Car; inspectionId: string }[] = [];
    const others: (Answer | 'no answer')[] = [];
    let stopping: Promise<number | null> | undefined;
    const submitOne = async (car: Car) => {
      const answer = await submit(server.base, car, goodAnswers()).catch(() => 'no answer' as const);
      if (answer === 'no answer' || answer.status !== 201) others.push(answer);
      else acknowledged.push({ car, inspectionId: String(answer.body['inspectionId']) });
      if (acknowledged.length === 15) stopping ??= server.end('SIGTERM');
    };
    // Six entrants, each one car after the other, so that some are in the middle of it when the signal comes.
    const queue = [...cars];
    const entrant = async () => {
      for (let car = queue.shift(); car !== undefined; car = queue.shift()) await submitOne(car);
    };
    await Promise.all(Array.from({ length: 6 }, entrant));
    expect(await stopping, stopping === undefined ? 'no signal was sent' : server.output().slice(-4000)).toBe(0);
    expect(acknowledged.length).toBeGreaterThanOrEqual(15);
    expect(others.length, 'the signal must have come in the middle').toBeGreaterThan(0);
    // Whoever was answered without being served was told that it is a stop, not a fault.
    for (const answer of others) if (answer !== 'no answer') expect(answer.status).toBe(503);

    server = await start();
    for (const { car, inspectionId } of acknowledged) {
      const kept = await sendOk(server.base, { path: `/v1/inspections/${inspectionId}`, token: car.entrant }, 200);
      expect(kept).toMatchObject({ entryId: car.entryId, revision: 1, verdict: 'clean' });
      expect(await askGate(server.base, club, car.carNumber)).toEqual({ admit: false, status: 'in-line' });
    }
    process.stdout.write(
      `SIGTERM under load: ${acknowledged.length} acknowledged and kept, ${others.length} not taken\n`,
    );
  });
});

describe('many marshals at once', () => {
  test('each gets the answer to his own question', { timeout: 120_000 }, async () => {
    const cars: Car[] = [];
    for (let number = 300; number < 310; number += 1) cars.push(await enterCar(server.base, club, String(number)));
    const [first, second] = cars as [Car, Car];
    await acceptCar(server.base, club, first);
    await acceptCar(server.base, club, second);
    await sendOk(server.base, {
      method: 'POST',
      path: `/v1/entries/${second.entryId}/holds`,
      token: club.inspector,
      body: { reason: 'noise' },
    });
    const other = await setUpClub(server.base, TOKEN);
    // Same numbers at another event: nothing may leak from one question into the other.
    for (const car of cars.slice(0, 3)) await enterCar(server.base, other, car.carNumber);
    const expected = (carNumber: string, where: Club) => {
      if (where === other) return Number(carNumber) < 303 ? 'no-declaration' : 'unknown';
      if (carNumber === first.carNumber) return 'clear';
      if (carNumber === second.carNumber) return 'held';
      return Number(carNumber) < 310 ? 'no-declaration' : 'unknown';
    };
    const questions = Array.from({ length: 300 }, (_, index) => ({
      carNumber: String(300 + (index % 12)),
      where: index % 3 === 0 ? other : club,
      token: index % 7 === 0 ? 'gw_nobody-has-this-token' : index % 5 === 0 ? first.entrant : undefined,
    }));
    const answers = await Promise.all(
      questions.map(async ({ carNumber, where, token = where.marshal }) =>
        send(server.base, { path: `/v1/events/${where.eventId}/gate/${carNumber}`, token }),
      ),
    );
    const logged = await countChecks(other.eventId);
    expect(logged).toBe(questions.filter(({ where, token }) => where === other && token === undefined).length);
    for (const [place, { carNumber, where, token }] of questions.entries()) {
      const { status, body } = answers[place] as Answer;
      if (token !== undefined) {
        expect([status, body['admit']]).toEqual([token === first.entrant ? 403 : 401, false]);
        continue;
      }
      expect(status).toBe(200);
      const wanted = expected(carNumber, where);
      expect(body).toMatchObject({ carNumber, eventId: where.eventId, status: wanted, admit: wanted === 'clear' });
    }
  });
});
