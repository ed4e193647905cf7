import pg from 'pg';
import { afterAll, beforeEach, afterEach, describe, expect, test } from 'vitest';
import { freePort } from '../operate/ports.ts';
import { parseExposition } from '../support/exposition.ts';
import { createTestDatabase, type TestDatabase } from '../support/postgres.ts';
import { hasRedis, startRedis, type TestRedis } from '../support/redis.ts';
import { killServers, type RunningServer, startServer } from '../support/server-process.ts';
import { waitFor } from '../support/wait.ts';
import {
  acceptCar,
  askGate,
  type Car,
  claimCar,
  type Club,
  enterCar,
  goodAnswers,
  setUpClub,
  signOff,
  submit,
} from './club.ts';
import { sendOk } from './http.ts';

const TOKEN = 'organizer-token-for-two-processes';
const WORKER_READY = 'worker started';
const REDIS = hasRedis();

afterAll(killServers);

let hasMigrated = false;
let database: TestDatabase;
let client: pg.Client;

beforeEach(async () => {
  // Empty at first: the two processes that start at once must also agree on who migrates it.
  database = await createTestDatabase({ empty: !hasMigrated });
  hasMigrated = true;
  client = new pg.Client({ connectionString: database.url });
  await client.connect();
});
afterEach(async () => {
  await client.end();
  await killServers();
  await database.drop();
});

const startRole = (role: 'api' | 'worker', settings: Record<string, string>): Promise<RunningServer> =>
  startServer(
    { ROLE: role, DATABASE_URL: database.url, ORGANIZER_TOKEN: TOKEN, OUTBOX_POLL_MS: '100', ...settings },
    role === 'worker' ? WORKER_READY : undefined,
  );

/** Kinds of the messages that the worker sent about an entry. */
async function notifications(entryId: string): Promise<string[]> {
  const { rows } = await client.query<{ kind: string }>('SELECT kind FROM notifications WHERE entry_id = $1', [
    entryId,
  ]);
  return rows.map(({ kind }) => kind);
}

const isTold = (entryId: string, kind: string) =>
  waitFor(`${kind} of ${entryId}`, async () => (await notifications(entryId)).includes(kind), 30_000);

/** Makes the lease end in seconds: the shortest that can be asked for is a minute. Its job must not be queued yet. */
async function shortenLease(claimId: string, seconds: number): Promise<void> {
  const until = `now() + interval '${seconds} seconds'`;
  const claim = await client.query(`UPDATE claims SET expires_at = ${until} WHERE id = $1`, [claimId]);
  const job = await client.query(
    `UPDATE outbox SET run_at = ${until} WHERE published_at IS NULL AND name = 'claim.expire' AND payload->>'claimId' = $1`,
    [claimId],
  );
  expect([claim.rowCount, job.rowCount]).toEqual([1, 1]);
}

async function ticketState(api: RunningServer, club: Club, car: Car): Promise<string | undefined> {
  const { tickets } = await sendOk(api.base, { path: `/v1/events/${club.eventId}/line`, token: club.inspector }, 200);
  return (tickets as { entryId: string; state: string }[]).find(({ entryId }) => entryId === car.entryId)?.state;
}

async function historyActions(api: RunningServer, club: Club, car: Car): Promise<string[]> {
  const path = `/v1/entries/${car.entryId}/history`;
  const { history } = await sendOk(api.base, { path, token: club.organizer }, 200);
  return (history as { action: string }[]).map(({ action }) => action);
}

const queues = [
  { queue: 'PostgreSQL', redis: false, skipped: false },
  { queue: 'Redis', redis: true, skipped: !REDIS },
];

for (const { queue, redis, skipped } of queues) {
  describe.skipIf(skipped)(`an API and a worker process, queue on ${queue}`, () => {
    let server: TestRedis | undefined;
    const settings = (): Record<string, string> => (server === undefined ? {} : { REDIS_URL: server.url });

    beforeEach(async () => {
      server = redis ? await startRedis() : undefined;
    });
    afterEach(async () => server?.stop());

    test('the worker tells the entrant what the API accepted, and both stop decently', {
      timeout: 120_000,
    }, async () => {
      const [api, worker] = await Promise.all([startRole('api', settings()), startRole('worker', settings())]);
      expect(worker.base).toBe('');
      expect(worker.logLine('jobs are running')?.['queue']).toBe(redis ? 'redis' : 'postgres');
      expect(api.logLine('jobs are running')).toBeUndefined();
      const club = await setUpClub(api.base, TOKEN);
      const car = await enterCar(api.base, club, '11');
      expect((await submit(api.base, car, goodAnswers())).status).toBe(201);
      await isTold(car.entryId, 'inspection.submitted');
      expect(await api.end('SIGTERM')).toBe(0);
      expect(await worker.end('SIGTERM')).toBe(0);
    });

    test('the API alone accepts everything; a worker that starts later catches up, once', {
      timeout: 120_000,
    }, async () => {
      const api = await startRole('api', settings());
      const club = await setUpClub(api.base, TOKEN);
      const car = await enterCar(api.base, club, '12');
      await acceptCar(api.base, club, car);
      expect(await askGate(api.base, club, '12')).toEqual({ admit: true, status: 'clear' });
      expect(await notifications(car.entryId)).toEqual([]);

      const leased = await enterCar(api.base, club, '13');
      expect((await submit(api.base, leased, goodAnswers())).status).toBe(201);
      await shortenLease(await claimCar(api.base, club, leased), 3);
      expect(await ticketState(api, club, leased)).toBe('claimed');

      const worker = await startRole('worker', settings());
      await isTold(car.entryId, 'inspection.submitted');
      await waitFor(
        'the delayed job',
        async () => (await historyActions(api, club, leased)).includes('claim.expired'),
        30_000,
      );
      expect(await ticketState(api, club, leased)).toBe('waiting');
      // A second worker, and whatever is tried again, tells nobody twice.
      const second = await startRole('worker', settings());
      await isTold(leased.entryId, 'inspection.submitted');
      const told = await notifications(car.entryId);
      expect(told.toSorted()).toEqual([...new Set(told)].toSorted());
      for (const process of [api, worker, second]) expect(await process.end('SIGTERM')).toBe(0);
    });
  });
}

describe.skipIf(!REDIS)('a worker with a port', () => {
  test('says that it lives, whether its queue answers, and which jobs it ran, and nothing else', {
    timeout: 180_000,
  }, async () => {
    const redis = await startRedis();
    try {
      const METRICS_TOKEN = 'collector-token-of-a-worker';
      const WORKER_PORT = String(await freePort());
      const settings = { REDIS_URL: redis.url, METRICS_TOKEN, WORKER_PORT };
      // The setting is the worker's only: both may read one file of settings.
      const [api, worker] = await Promise.all([startRole('api', settings), startRole('worker', settings)]);
      await waitFor('the port', () => worker.logLine('the worker answers /readyz and /metrics') !== undefined);
      const ask = async (path: string, token?: string) => {
        const headers: Record<string, string> = token === undefined ? {} : { authorization: `Bearer ${token}` };
        const answer = await fetch(`http://127.0.0.1:${WORKER_PORT}${path}`, { headers });
        return { status: answer.status, text: await answer.text() };
      };
      expect((await ask('/readyz')).status).toBe(200);
      for (const path of ['/v1/events', '/v1/catalogue', '/docs', '/office', '/openapi.json'])
        expect((await ask(path, TOKEN)).status, path).toBe(404);
      expect((await ask('/metrics')).status).toBe(401);

      const club = await setUpClub(api.base, TOKEN);
      const car = await enterCar(api.base, club, '31');
      expect((await submit(api.base, car, goodAnswers())).status).toBe(201);
      await isTold(car.entryId, 'inspection.submitted');
      const ran = async () => {
        const { samples } = parseExposition((await ask('/metrics', METRICS_TOKEN)).text);
        const found = samples.find(
          ({ name, labels }) =>
            name === 'gridworthy_job_duration_seconds_count' &&
            labels['name'] === 'inspection.notify' &&
            labels['outcome'] === 'done',
        );
        return found?.value;
      };
      await waitFor('the count', async () => (await ran()) === 1);

      await redis.crash();
      await waitFor('not ready', async () => (await ask('/readyz')).status === 503);
      expect(JSON.parse((await ask('/readyz')).text)).toMatchObject({ code: 'queue-unavailable' });
      expect((await ask('/healthz')).status).toBe(200);
      // The queue is no matter of who serves people.
      expect((await fetch(`${api.base}/readyz`)).status).toBe(200);
      await redis.restart();
      await waitFor('ready', async () => (await ask('/readyz')).status === 200, 30_000);
      for (const process of [api, worker]) expect(await process.end('SIGTERM')).toBe(0);
    } finally {
      await redis.stop();
    }
  });
});

describe.skipIf(!REDIS)('Redis gone while people work', () => {
  test('everything is accepted, and the worker catches up when it is back', { timeout: 180_000 }, async () => {
    const redis = await startRedis();
    try {
      const settings = { REDIS_URL: redis.url };
      const [api, worker] = await Promise.all([startRole('api', settings), startRole('worker', settings)]);
      const club = await setUpClub(api.base, TOKEN);
      const before = await enterCar(api.base, club, '21');
      const [car, leased] = [await enterCar(api.base, club, '22'), await enterCar(api.base, club, '23')];
      expect((await submit(api.base, before, goodAnswers())).status).toBe(201);
      await isTold(before.entryId, 'inspection.submitted');

      await redis.crash();
      expect((await submit(api.base, car, goodAnswers())).status).toBe(201);
      const claimId = await claimCar(api.base, club, car);
      const signed = await signOff(api.base, club, claimId, { decision: 'accept', stickerNumber: '22' });
      expect(signed.status).toBe(201);
      expect(await askGate(api.base, club, '22')).toEqual({ admit: true, status: 'clear' });
      expect((await submit(api.base, leased, goodAnswers())).status).toBe(201);
      await shortenLease(await claimCar(api.base, club, leased), 1);
      // The lease ends by the database clock although no job can run.
      await waitFor('the lease to end', async () => (await ticketState(api, club, leased)) === 'waiting');
      expect(await historyActions(api, club, leased)).not.toContain('claim.expired');
      expect(await notifications(car.entryId)).toEqual([]);

      await redis.restart();
      await isTold(car.entryId, 'inspection.submitted');
      await isTold(leased.entryId, 'inspection.submitted');
      await waitFor(
        'the late job',
        async () => (await historyActions(api, club, leased)).includes('claim.expired'),
        30_000,
      );
      expect(await api.end('SIGTERM')).toBe(0);
      expect(await worker.end('SIGTERM')).toBe(0);
    } finally {
      await redis.stop();
    }
  });
});
