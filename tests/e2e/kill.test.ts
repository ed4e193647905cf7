import { randomUUID } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import {
  type DataFolder,
  killServers,
  makeDataFolder,
  type RunningServer,
  startServer,
} from '../support/server-process.ts';
import {
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
} from './club.ts';
import { send, sendOk } from './http.ts';

const TOKEN = 'organizer-token-for-killed-servers';
const restarts: number[] = [];

let folder: DataFolder;
let server: RunningServer;
let club: Club;

beforeAll(async () => {
  folder = await makeDataFolder();
  server = await start();
  club = await setUpClub(server.base, TOKEN);
});
afterAll(async () => {
  await killServers();
  await folder.remove();
  const sorted = restarts.toSorted((a, b) => a - b);
  const median = sorted[Math.floor(sorted.length / 2)];
  process.stdout.write(
    `${restarts.length} restarts after kill -9: ${median} ms (median), ${sorted.at(-1)} ms (longest)\n`,
  );
});

const start = () => startServer({ DATA_DIR: folder.path, ORGANIZER_TOKEN: TOKEN });

/** Ends the server, and the database under it if asked, with no chance to do anything, and starts again. */
async function killAndRestart(withDatabase: boolean): Promise<void> {
  const database = await folder.database();
  if (database === undefined) throw new Error('no database runs on the folder');
  if (withDatabase) process.kill(database, 'SIGKILL');
  await server.end('SIGKILL');
  server = await start();
  restarts.push(server.readyMs);
}

/** What the steps of one car hand on to each other. */
interface Progress {
  car: Car;
  claimId: string;
  holdId: string;
  inspectionId: string;
}

interface Step {
  name: string;
  run(progress: Progress): Promise<Partial<Progress>>;
  /** what the gate must say after it */
  admit: boolean;
  status: string;
}

const post = (path: string, token: string, body: unknown, status = 201) =>
  sendOk(server.base, { method: 'POST', path, token, body }, status);

const STEPS: readonly Step[] = [
  {
    name: 'draft saved',
    run: ({ car }) => saveDraft(server.base, car),
    admit: false,
    status: 'no-declaration',
  },
  {
    name: 'submitted',
    async run({ car }) {
      const { status, body } = await submit(server.base, car);
      expect(status, JSON.stringify(body)).toBe(201);
      return { inspectionId: String(body['inspectionId']) };
    },
    admit: false,
    status: 'in-line',
  },
  {
    name: 'claimed',
    run: async ({ car }) => ({ claimId: await claimCar(server.base, club, car) }),
    admit: false,
    status: 'in-line',
  },
  {
    name: 'signed off',
    async run({ car, claimId }) {
      const body = { decision: 'accept', stickerNumber: `S${car.carNumber}` };
      const answer = await signOff(server.base, club, claimId, body);
      expect(answer.status, JSON.stringify(answer.body)).toBe(201);
      return {};
    },
    admit: true,
    status: 'clear',
  },
  {
    name: 'held',
    async run({ car }) {
      const { holdId } = await post(`/v1/entries/${car.entryId}/holds`, club.inspector, { reason: 'leaks oil' });
      return { holdId: String(holdId) };
    },
    admit: false,
    status: 'held',
  },
  {
    name: 'lifted',
    run: ({ holdId }) => post(`/v1/holds/${holdId}/lift`, club.chief, { reason: 'line tightened' }, 200),
    admit: true,
    status: 'clear',
  },
  {
    name: 'withdrawn',
    run: ({ car }) => post(`/v1/entries/${car.entryId}/withdraw`, car.entrant, {}, 200),
    admit: false,
    status: 'withdrawn',
  },
];

async function assertHistoryIsWhole(car: Car): Promise<void> {
  const { history, intact } = await sendOk(
    server.base,
    { path: `/v1/entries/${car.entryId}/history`, token: club.organizer },
    200,
  );
  expect(intact).toBe(true);
  expect(Array.isArray(history) && history.length).toBeGreaterThan(0);
}

describe.each([
  { killed: 'the server', withDatabase: false, carNumber: '1' },
  { killed: 'the server and its database', withDatabase: true, carNumber: '2' },
])('kill -9 of $killed after each step', ({ withDatabase, carNumber }) => {
  test('the gate answers what the last acknowledged write says', { timeout: 240_000 }, async () => {
    const car = await enterCar(server.base, club, carNumber);
    let progress: Progress = { car, claimId: '', holdId: '', inspectionId: '' };
    await killAndRestart(withDatabase);
    expect(await askGate(server.base, club, carNumber)).toEqual({ admit: false, status: 'no-declaration' });
    for (const step of STEPS) {
      progress = { ...progress, ...(await step.run(progress)) };
      await killAndRestart(withDatabase);
      const { admit, status } = step;
      expect(await askGate(server.base, club, carNumber), step.name).toEqual({ admit, status });
      await assertHistoryIsWhole(car);
    }
    // That it was a crash for the database too, and not a decent stop, is what its own log says.
    const log = await readFile(join(folder.path, 'postgres.log'), 'utf8');
    if (withDatabase) expect(log).toContain('automatic recovery in progress');
  });
});

describe('kill -9 in the middle of a submission', () => {
  test('it happened or it did not, and the repeat with the same key makes it exactly one', {
    timeout: 240_000,
  }, async () => {
    for (const [round, waitMs] of [0, 5, 15].entries()) {
      const car = await enterCar(server.base, club, `9${round}`);
      const key = randomUUID();
      const answers = goodAnswers();
      const inFlight = submit(server.base, car, answers, key).then(
        ({ status }) => status,
        () => 'no answer',
      );
      await new Promise((resolve) => setTimeout(resolve, waitMs));
      await killAndRestart(round % 2 === 1);
      const first = await inFlight;
      const { status } = await askGate(server.base, club, car.carNumber);
      // An answer binds; without one both are right.
      expect(first === 201 ? ['in-line'] : ['in-line', 'no-declaration']).toContain(status);
      const repeat = await submit(server.base, car, answers, key);
      expect(repeat.status).toBe(201);
      expect(repeat.body).toMatchObject({ revision: 1 });
      const path = `/v1/entries/${car.entryId}/inspections`;
      const list = await send(server.base, { path, token: car.entrant });
      expect(list.body['inspections']).toHaveLength(1);
      expect(await askGate(server.base, club, car.carNumber)).toEqual({ admit: false, status: 'in-line' });
    }
  });
});
