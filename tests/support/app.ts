import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import supertest from 'supertest';
import type TestAgent from 'supertest/lib/agent.js';
import { inject } from 'vitest';
import { buildApp } from '../../src/app.ts';
import { type Config, loadConfig } from '../../src/config.ts';
import { type Deps, openDeps } from '../../src/deps.ts';
import { type Role, personKey } from '../../src/domain/actor.ts';
import { hashToken, newToken } from '../../src/http/auth.ts';
import type { Db } from '../../src/platform/db.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { type SettableClock, settableClock } from './clock.ts';
import { createTestDatabase, type TestDatabase } from './postgres.ts';

/** The instant at which a test app starts, unless told. */
export const TEST_NOW = '2026-06-10T08:00:00.000Z';

/** A token of a test, with the names it is stored under. */
export interface TestToken {
  tokenId: string;
  token: string;
  role: Role;
  holder: string;
}

export interface TestApp {
  app: FastifyInstance;
  deps: Deps;
  clock: SettableClock;
  databaseUrl: string;
  /** mints a token in the database, past the API; `entryId` for entrants */
  mint(role: Role, options?: { holder?: string; entryId?: string }): Promise<TestToken>;
  /** supertest with the token of a role (minted once per role), of a `TestToken`, or with none */
  api(as: Exclude<Role, 'entrant'> | TestToken | undefined): TestAgent;
  close(): Promise<void>;
}

/** A test machine is busy with other tests: what they make wait is not too much for the service. */
const UNSHED = { maxLoopDelayMs: 0, maxWaitMs: 0 };

/** A config for tests: silent, and never in the way of a test that asks often. */
export function testConfig(overrides: Partial<Config> = {}): Config {
  // The pages that were built for this run, not what lies in `dist`.
  const webDir = inject('webDir');
  return { ...loadConfig({}), webDir, logLevel: 'silent', rateLimitPerMinute: 1_000_000, ...UNSHED, ...overrides };
}

/**
 * The whole application on a fresh database (or the one given, which is dropped at the end), listening on a free port of this machine, with a clock that the test
 * sets. Call `close` when done.
 */
export async function startTestApp(
  options: { now?: string; clock?: SettableClock; config?: Partial<Config>; database?: TestDatabase } = {},
): Promise<TestApp> {
  const database = options.database ?? (await createTestDatabase());
  // A folder of its own: photos of tests do not belong among those of a developer.
  const dataDir = await mkdtemp(join(tmpdir(), 'gridworthy-app-'));
  const config = testConfig({ dataDir, ...options.config });
  const log = createLogger({ level: config.logLevel });
  const clock = options.clock ?? settableClock(options.now ?? TEST_NOW);
  const deps: Deps = { ...openDeps(config, database.url, log), clock };
  const app = await buildApp(deps);
  // Listening once: supertest would otherwise open a port of its own for every request.
  await app.listen({ port: 0, host: '127.0.0.1' });
  const staff = await mintStaff(deps.db.prisma);
  return {
    app,
    deps,
    clock,
    databaseUrl: database.url,
    mint: (role, details) => mintToken(deps.db.prisma, role, details),
    api: (as) => agent(app, typeof as === 'string' ? staff[as] : as),
    close: async () => {
      await app.close();
      await deps.db.close();
      await database.drop();
      await rm(dataDir, { recursive: true, force: true });
    },
  };
}

function agent(app: FastifyInstance, token: TestToken | undefined): TestAgent {
  const client = supertest.agent(app.server);
  return token === undefined ? client : client.set('authorization', `Bearer ${token.token}`);
}

async function mintStaff(db: Db): Promise<Record<Exclude<Role, 'entrant'>, TestToken>> {
  const [organizer, chief, inspector, marshal] = await Promise.all([
    mintToken(db, 'organizer'),
    mintToken(db, 'chief'),
    mintToken(db, 'inspector'),
    mintToken(db, 'marshal'),
  ]);
  return { organizer, chief, inspector, marshal };
}

async function mintToken(
  db: Db,
  role: Role,
  { holder = `Test ${role}`, entryId }: { holder?: string; entryId?: string } = {},
): Promise<TestToken> {
  const token = newToken();
  const row = await db.token.create({
    data: {
      hash: new Uint8Array(hashToken(token)),
      role,
      holder,
      holderKey: personKey(holder),
      ...(entryId === undefined ? {} : { entryId }),
    },
  });
  return { tokenId: row.id, token, role, holder };
}
