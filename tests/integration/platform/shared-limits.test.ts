import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp, type TestToken } from '../../support/app.ts';
import { createTestDatabase } from '../../support/postgres.ts';
import { hasRedis, startRedis, type TestRedis } from '../../support/redis.ts';
import { waitFor } from '../../support/wait.ts';

const PER_MINUTE = 30;

describe.skipIf(!hasRedis())('two API processes that share a Redis', () => {
  let redis: TestRedis;
  let [a, b]: TestApp[] = [];

  beforeAll(async () => {
    redis = await startRedis();
    const database = await createTestDatabase();
    const config = { redisUrl: redis.url, rateLimitPerMinute: PER_MINUTE };
    a = await startTestApp({ config, database });
    b = await startTestApp({ config, database: { ...database, drop: async () => undefined } });
  });
  afterAll(async () => {
    await b?.close();
    await a?.close();
    await redis?.stop();
  });

  const ask = async (app: TestApp | undefined, token: TestToken, path = '/v1/events') => {
    const startedAt = performance.now();
    const answer = await app?.api(token).get(path);
    return { status: answer?.status, left: answer?.headers['ratelimit'], ms: performance.now() - startedAt };
  };
  const times = async (n: number, app: TestApp | undefined, token: TestToken, path?: string) => {
    const answers = [];
    for (let i = 0; i < n; i += 1) answers.push(await ask(app, token, path));
    return answers;
  };
  const statuses = (answers: { status: number | undefined }[]) => answers.map(({ status }) => status);
  const minted = async () => {
    const token = await a?.mint('organizer');
    if (token === undefined) throw new Error('no application');
    return token;
  };

  test('count a caller together', async () => {
    const token = await minted();
    // The connection is made in the background; until then each counts alone.
    await waitFor('both to count together', async () => {
      const probe = await minted();
      await ask(a, probe);
      return (await ask(b, probe)).left?.includes(`r=${PER_MINUTE - 2};`) === true;
    });
    expect(new Set(statuses(await times(20, a, token)))).toEqual(new Set([200]));
    expect(statuses(await times(12, b, token))).toEqual([...Array.from({ length: 10 }, () => 200), 429, 429]);
    expect((await ask(a, token)).status).toBe(429);
    // Another caller is another count, and the gate is counted by each process by itself.
    expect((await ask(b, await minted())).status).toBe(200);
    const gate = '/v1/events/019ab8f0-0000-7000-8000-00000000dead/gate/1';
    expect((await ask(b, token, gate)).status).toBe(404);
  });

  test('each counts alone when it is away, and nobody waits or is refused for it', async () => {
    const token = await minted();
    await times(5, a, token);
    await redis.crash();
    const answers = await times(PER_MINUTE - 5, a, token);
    expect(new Set(statuses(answers))).toEqual(new Set([200]));
    const waits = answers.map(({ ms }) => ms).toSorted((x, y) => x - y);
    // The median: one of them may meet the moment in which the connection breaks, and the machine is busy.
    expect(waits[Math.floor(waits.length / 2)]).toBeLessThan(500);
    expect((await ask(a, token)).status).toBe(429);
    // By its own count the other has heard of nobody yet.
    expect((await ask(b, token)).status).toBe(200);
    await redis.restart();
    await waitFor('to count together again', async () => {
      const probe = await minted();
      await ask(a, probe);
      return (await ask(b, probe)).left?.includes(`r=${PER_MINUTE - 2};`) === true;
    });
  });
});
