import { mkdtemp, rm } from 'node:fs/promises';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import supertest from 'supertest';
import type TestAgent from 'supertest/lib/agent.js';
import { inject } from 'vitest';
import { buildApp } from '../../src/app.ts';
import { type Config, loadConfig } from '../../src/config.ts';
import { type Deps, openDeps, type ThreadSettings } from '../../src/deps.ts';
import { type Role, personKey } from '../../src/domain/actor.ts';
import { hashToken, newToken } from '../../src/http/access/auth.ts';
import { startSealer } from '../../src/records/history/seal.ts';
import type { Db } from '../../src/platform/database/db.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { type SettableClock, settableClock } from './clock.ts';
import { createTestDatabase, emptyTables, type TestDatabase } from './postgres.ts';
import './setup/pages.ts';
import './setup/threads.ts';

declare module 'vitest' {
  interface ProvidedContext {
    /** whether test files of one worker may use one application after the other */
    sharedApp?: boolean;
  }
}

/** The instant at which a test app starts, unless told. */
export const TEST_NOW = '2026-06-10T08:00:00.000Z';

/** Roles of which every test app has a token. */
export type StaffRole = Exclude<Role, 'entrant' | 'owner' | 'shop'>;

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
  mint(role: Role, options?: { holder?: string; entryId?: string; personId?: string }): Promise<TestToken>;
  /** supertest with the token of a role (minted once per role), of a `TestToken`, or with none */
  api(as: StaffRole | TestToken | undefined): TestAgent;
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

export interface TestAppOptions {
  now?: string;
  clock?: SettableClock;
  config?: Partial<Config>;
  /** dropped at the end */
  database?: TestDatabase;
  /** an application that no other test file ever sees: for what stops it, or outlives `close` */
  own?: boolean;
  threads?: Partial<ThreadSettings>;
}

/** Threads for tests: at the same priority as the tests, and patient, because a test machine is busy. */
export function testThreads(overrides: Partial<ThreadSettings> = {}): ThreadSettings {
  const file = new URL('thread-tasks.mjs', inject('threadFolder'));
  return { file, niceness: 0, perCaller: 50, waiting: 200, waitMs: 30_000, ...overrides };
}

/**
 * The whole application on an empty, migrated database, listening on a free port of this machine, with a clock that the
 * test sets. Call `close` when done.
 *
 * Without options other than `now` it may be the one that this worker's test files use one after the other, as new: its
 * tables emptied, its photos gone, other tokens, the clock at its start.
 */
export async function startTestApp(options: TestAppOptions = {}): Promise<TestApp> {
  const { now = TEST_NOW, ...special } = options;
  if (!mayShare() || Object.keys(special).length > 0) return startOwn(options);
  return leaseShared(now);
}

/** Whether this vitest project keeps its workers for several files (`sharedApp` in the vitest config). */
const mayShare = () => inject('sharedApp') === true;

async function startOwn(options: TestAppOptions): Promise<TestApp> {
  const { close, ...opened } = await openApp(options);
  const lease = await lend(opened);
  return {
    ...lease,
    close: async () => {
      await opened.app.close();
      await lease.close();
      await close();
    },
  };
}

type Opened = Pick<TestApp, 'app' | 'deps' | 'clock' | 'databaseUrl'>;

async function openApp(options: TestAppOptions): Promise<Opened & { close(): Promise<void> }> {
  const database = options.database ?? (await createTestDatabase());
  // A folder of its own: photos of tests do not belong among those of a developer.
  const dataDir = await mkdtemp(join(inject('testCluster').folder, 'app-'));
  const config = testConfig({ dataDir, ...options.config });
  const log = createLogger({ level: config.logLevel });
  const clock = options.clock ?? settableClock(options.now ?? TEST_NOW);
  const deps: Deps = { ...openDeps(config, database.url, log, testThreads(options.threads)), clock };
  const app = await buildApp(deps);
  // Listening once: supertest would otherwise open a port of its own for every request.
  await app.listen({ port: 0, host: '127.0.0.1' });
  return {
    app,
    deps,
    clock,
    databaseUrl: database.url,
    close: async () => {
      await deps.threads.stop();
      await deps.db.close();
      await database.drop();
      await rm(dataDir, { recursive: true, force: true });
    },
  };
}

/** Gives an application to a test, with tokens of the staff and, until `close`, somebody who seals what is written. */
async function lend({ databaseUrl, ...opened }: Opened): Promise<TestApp> {
  const sealer = startSealer(opened.deps);
  const lease = await withStaff(opened.app, opened.deps, opened.clock);
  return { ...lease, databaseUrl, close: () => sealer.stop() };
}

/** The application of this worker, while no file has it; its process ends with the worker, its data with the cluster. */
let idle: Promise<Opened> | undefined;
let made = false;

async function leaseShared(now: string): Promise<TestApp> {
  // A second one beside the first, or a file that never gave it back: that is one of its own.
  if (made && idle === undefined) return startOwn({ now });
  const taken = idle ?? openApp({ now });
  made = true;
  idle = undefined;
  const shared = await taken;
  shared.clock.set(now);
  const lease = await lend(shared);
  return {
    ...lease,
    close: async () => {
      shared.app.server.closeAllConnections();
      await lease.close();
      await emptyTables(shared.databaseUrl);
      await rm(join(shared.deps.config.dataDir, 'photos'), { recursive: true, force: true });
      idle = Promise.resolve(shared);
    },
  };
}

async function withStaff(
  app: FastifyInstance,
  deps: Deps,
  clock: SettableClock,
): Promise<Omit<TestApp, 'databaseUrl' | 'close'>> {
  const staff = await mintStaff(deps.db.prisma);
  return {
    app,
    deps,
    clock,
    mint: (role, details) => mintToken(deps.db.prisma, role, details),
    api: (as) => agent(app, typeof as === 'string' ? staff[as] : as),
  };
}

function agent(app: FastifyInstance, token: TestToken | undefined): TestAgent {
  const client = supertest.agent(app.server);
  return token === undefined ? client : client.set('authorization', `Bearer ${token.token}`);
}

async function mintStaff(db: Db): Promise<Record<StaffRole, TestToken>> {
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
  { holder = `Test ${role}`, entryId, personId }: { holder?: string; entryId?: string; personId?: string } = {},
): Promise<TestToken> {
  const token = newToken();
  const row = await db.token.create({
    data: {
      hash: new Uint8Array(hashToken(token)),
      role,
      holder,
      holderKey: personKey(holder),
      // Before whatever the test does, by the clock that it sets.
      createdAt: new Date('2026-01-01T00:00:00Z'),
      ...(entryId === undefined ? {} : { entryId }),
      ...(personId === undefined ? {} : { personId }),
    },
  });
  return { tokenId: row.id, token, role, holder };
}
