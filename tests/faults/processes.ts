import { Redis } from 'ioredis';
import { freePort, hasRedis, startRedis, type TestRedis } from '../support/redis.ts';
import { type EndSignal, type ExternalDatabase, startDatabase } from './database.ts';
import type { Recorded } from './history.ts';
import { type Member, startMember } from './member.ts';
import { APIS, type Fault, WORKERS } from './plan.ts';
import { openProxy, type Proxy } from './proxy.ts';
import { pause } from './request.ts';
import { NO_SMALL_DISK } from './small-disk.ts';
import {
  COMMON_ENV,
  endLeases,
  FAILED_LINE,
  freeze,
  GIVEN_UP_LINE,
  killAndStart,
  READY_LINE,
  stopAndStart,
  type System,
  TOLD_LINE,
  WORKER_LINE,
} from './system.ts';

/** What stands behind the processes, and the connection points of each of them. */
interface Ground {
  database: ExternalDatabase;
  redis: TestRedis | undefined;
  links: ReadonlyMap<string, { database: Proxy; redis?: Proxy }>;
  members: ReadonlyMap<string, Member>;
  record: Recorded;
  complaints: string[];
  closed: boolean;
}

/** Two API processes and two workers on a PostgreSQL of ours, and on a Redis where this machine has one. */
export async function startProcesses(record: Recorded): Promise<System> {
  const database = await startDatabase();
  const redis = hasRedis() ? await startRedis() : undefined;
  const links = await openLinks(database, redis);
  const bases: string[] = [];
  const members = new Map<string, Member>();
  for (const name of APIS) {
    const port = await freePort();
    bases.push(`http://127.0.0.1:${port}`);
    members.set(name, startApi(name, port, addressOf(database, links.get(name)?.database)));
  }
  for (const name of WORKERS) members.set(name, startWorker(name, database, links.get(name)));
  const ground: Ground = { database, redis, links, members, record, complaints: [], closed: false };
  const skipped = [
    ...(redis === undefined ? ['Redis: redis-server not found, the queue runs on PostgreSQL'] : []),
    ...(database.smallDisk ? [] : [NO_SMALL_DISK]),
  ];
  return {
    mode: 'processes',
    abilities: { redis: redis !== undefined, smallDisk: database.smallDisk },
    skipped,
    bases,
    members: [...members.values()],
    databaseUrl: async () => database.url(),
    inject: (fault) => inject(ground, fault),
    complaints: () => [...ground.complaints, ...[...members.values()].flatMap((member) => member.selfEnded())],
    close: () => close(ground),
  };
}

async function openLinks(database: ExternalDatabase, redis: TestRedis | undefined): Promise<Ground['links']> {
  const links = new Map<string, { database: Proxy; redis?: Proxy }>();
  for (const name of APIS) links.set(name, { database: await openProxy(database.port) });
  for (const name of WORKERS) {
    const toDatabase = await openProxy(database.port);
    if (redis === undefined) links.set(name, { database: toDatabase });
    else links.set(name, { database: toDatabase, redis: await openProxy(() => Number(new URL(redis.url).port)) });
  }
  return links;
}

const addressOf = (database: ExternalDatabase, proxy: Proxy | undefined) =>
  Object.assign(new URL(database.url()), { port: String(proxy?.port) }).href;

function startApi(name: string, port: number, databaseUrl: string): Member {
  const env = { ...COMMON_ENV, ROLE: 'api', PORT: String(port), DATABASE_URL: databaseUrl };
  return startMember({ name, env, ready: READY_LINE, keep: [FAILED_LINE] });
}

function startWorker(
  name: string,
  database: ExternalDatabase,
  link: { database: Proxy; redis?: Proxy } | undefined,
): Member {
  const env = {
    ...COMMON_ENV,
    ROLE: 'worker',
    DATABASE_URL: addressOf(database, link?.database),
    ...(link?.redis === undefined ? {} : { REDIS_URL: `redis://127.0.0.1:${link.redis.port}` }),
  };
  return startMember({ name, env, ready: WORKER_LINE, keep: [TOLD_LINE, GIVEN_UP_LINE] });
}

async function inject(ground: Ground, fault: Fault): Promise<void> {
  const { database, redis, members, record } = ground;
  switch (fault.kind) {
    case 'quit-database':
      return crash(ground, 'SIGQUIT', fault.ms);
    case 'restart-database':
      return crash(ground, 'SIGINT', fault.ms);
    case 'restart-redis':
      return againRedis(ground, () => redis?.end(), fault.ms);
    case 'disk-full':
      return duringCrash(record, () => database.fill(fault.ms));
    case 'flush-redis':
      return redis && onRedis(redis, async (client) => void (await client.flushall()));
    case 'leases-end':
      return endLeases(database.url(), record);
    case 'cut':
      return cut(ground, fault);
    default:
  }
  const member = members.get(fault.target);
  if (member === undefined) return toServer(ground, fault);
  if (fault.kind === 'kill') return killAndStart(member, fault.ms);
  if (fault.kind === 'freeze') return freeze(() => [member.pid()], fault.ms);
  // A stop that another fault holds up may be cut short; that it was decent is asked for where it is alone.
  const complaint = await stopAndStart(member);
  if (complaint !== undefined) ground.complaints.push(complaint);
}

/** Kills or freezes what the service depends on. */
async function toServer(ground: Ground, { kind, target, ms }: Extract<Fault, { target: string }>): Promise<void> {
  const { database, redis } = ground;
  if (target === 'database') return kind === 'kill' ? crash(ground, 'SIGKILL', ms) : freeze(database.pids, ms);
  if (redis === undefined) return;
  if (kind === 'freeze') {
    const pid = await onRedis(redis, async (client) =>
      Number(/process_id:(\d+)/.exec(await client.info('server'))?.[1]),
    );
    return freeze(() => [pid], ms);
  }
  await againRedis(ground, redis.crash, ms);
}

async function againRedis(ground: Ground, end: () => Promise<void> | undefined, downMs: number): Promise<void> {
  await end();
  await pause(downMs);
  if (!ground.closed) await ground.redis?.restart();
}

const crash = ({ database, record }: Ground, signal: EndSignal, ms: number) =>
  duringCrash(record, () => database.crash(signal, ms));

async function duringCrash(record: Recorded, work: () => Promise<void>): Promise<void> {
  const from = performance.now();
  await work();
  record.crashes.push({ from, to: performance.now() });
}

async function cut({ links }: Ground, { how, link, target, ms }: Extract<Fault, { kind: 'cut' }>): Promise<void> {
  const chosen = [...links].filter(([name]) => target === 'all' || target === name).map(([, ends]) => ends[link]);
  const mend = chosen.map((proxy) => proxy?.cut(how));
  await pause(ms);
  for (const again of mend) again?.();
}

async function onRedis<T>(redis: TestRedis, use: (client: Redis) => Promise<T>): Promise<T> {
  const client = new Redis(redis.url, { retryStrategy: () => 50, maxRetriesPerRequest: 100 });
  client.on('error', () => undefined);
  try {
    return await use(client);
  } finally {
    client.disconnect();
  }
}

async function close(ground: Ground): Promise<void> {
  const { members, links, redis, database } = ground;
  ground.closed = true;
  await Promise.all([...members.values()].map((member) => member.close()));
  for (const ends of links.values()) {
    await ends.database.close();
    await ends.redis?.close();
  }
  await redis?.stop();
  await database.close();
}
