import { randomBytes } from 'node:crypto';
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { HOSTILE_TEXTS } from '../support/hostile-texts.ts';

/** Lookups measured for each attack, and at rest. */
const LOOKUPS = 400;
/** Between two lookups: a busy gate asks a few times a second, this is fifty. */
const EVERY_MS = 20;
const LOOKUP_LIMITS = { p99OverIdleMs: 50, worstMs: 250 };
const ANSWER_LIMIT_MS = 3000;

const say = (text: string) => process.stdout.write(`${text}\n`);

interface Server {
  base: string;
  token: string;
  stop(): Promise<void>;
}

/** The built server as a process of its own, with everything in a folder that goes when it ends. */
async function startServer(): Promise<Server> {
  const folder = await mkdtemp(join(tmpdir(), 'gridworthy-hostile-'));
  await chmod(folder, 0o711);
  const token = `gw_${randomBytes(32).toString('base64url')}`;
  const child = spawn(
    process.execPath,
    ['--enable-source-maps', fileURLToPath(new URL('../../src/server.js', import.meta.url))],
    {
      env: {
        PATH: process.env['PATH'],
        PORT: '0',
        DATA_DIR: join(folder, 'data'),
        ORGANIZER_TOKEN: token,
        RATE_LIMIT_PER_MINUTE: '1000000',
      },
      stdio: ['ignore', 'pipe', 'inherit'],
    },
  );
  const ended = once(child, 'exit');
  let base = '';
  for await (const line of createInterface({ input: child.stdout })) {
    const found = /"api":"([^"]+)\/v1"/.exec(line);
    if (found === null) continue;
    base = found[1] ?? '';
    break;
  }
  child.stdout.resume();
  if (base === '') throw new Error('the server did not start');
  return {
    base,
    token,
    async stop() {
      child.kill('SIGTERM');
      await ended;
      await rm(folder, { recursive: true, force: true });
    },
  };
}

interface Times {
  p50: number;
  p99: number;
  worst: number;
  failed: number;
}

function timesOf(ms: readonly number[], failed: number): Times {
  const sorted = ms.toSorted((a, b) => a - b);
  const at = (share: number) => Math.round(sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] ?? 0);
  return { p50: at(0.5), p99: at(0.99), worst: at(1), failed };
}

/** Looks a number up again and again, at a steady rate, whatever the answers take. */
async function lookUp(server: Server, eventId: string): Promise<Times> {
  const ms: number[] = [];
  let failed = 0;
  const one = async () => {
    const started = performance.now();
    const answer = await send(server, `/v1/events/${eventId}/gate/7`);
    ms.push(performance.now() - started);
    if (answer.status !== 200) failed += 1;
  };
  const all: Promise<void>[] = [];
  for (let count = 0; count < LOOKUPS; count += 1) {
    all.push(one());
    await sleep(EVERY_MS);
  }
  await Promise.all(all);
  return timesOf(ms, failed);
}

async function send(server: Server, path: string, body?: { type: string; text: string }) {
  const answer = await fetch(server.base + path, {
    headers: { authorization: `Bearer ${server.token}`, ...(body && { 'content-type': body.type }) },
    ...(body && { method: 'POST', body: body.text }),
  });
  const text = await answer.text();
  return { status: answer.status, text, bytes: Buffer.byteLength(text) };
}

/** Sends the attack again and again, one after the other, until the lookups are done. */
async function attack(server: Server, { type, make }: (typeof HOSTILE_TEXTS)[number], isOver: () => boolean) {
  let slowest = 0;
  const statuses = new Set<number>();
  let largest = 0;
  let count = 0;
  while (!isOver()) {
    const text = make();
    const started = performance.now();
    const { status, bytes } = await send(server, '/v1/rule-set-checks', { type, text });
    slowest = Math.max(slowest, performance.now() - started);
    largest = Math.max(largest, bytes);
    statuses.add(status);
    count += 1;
  }
  return { count, slowest: Math.round(slowest), largest, statuses: [...statuses].join(' ') };
}

async function makeEvent(server: Server): Promise<string> {
  const post = async (path: string, value: unknown) =>
    JSON.parse((await send(server, path, { type: 'application/json', text: JSON.stringify(value) })).text);
  const { venueId } = await post('/v1/venues', { name: 'Bench circuit', timeZone: 'Europe/Berlin' });
  const { eventId } = await post('/v1/events', {
    name: 'Bench event',
    venueId,
    startsOn: '2030-06-13',
    endsOn: '2030-06-14',
    declarationsOpenAt: '2030-06-01T06:00:00Z',
    declarationsCloseAt: '2030-06-12T18:00:00Z',
  });
  return eventId as string;
}

const show = ({ p50, p99, worst, failed }: Times) =>
  `p50 ${p50}, p99 ${p99}, worst ${worst} ms${failed ? `, ${failed} FAILED` : ''}`;

/** `npm run bench:hostile`: the gate at rest and under each attack, in one start of the server. */
async function main(): Promise<void> {
  say(`${new Date().toISOString()}, load of the machine before: ${loadavg()[0]?.toFixed(1)}`);
  const server = await startServer();
  try {
    const eventId = await makeEvent(server);
    await send(server, '/v1/rule-set-checks', { type: 'application/yaml', text: 'a: 1' });
    await lookUp(server, eventId);
    const idle = await lookUp(server, eventId);
    say(`${LOOKUPS} lookups at rest: ${show(idle)}`);
    for (const one of HOSTILE_TEXTS) {
      let isOver = false;
      const attacking = attack(server, one, () => isOver);
      const times = await lookUp(server, eventId).finally(() => (isOver = true));
      const { count, slowest, largest, statuses } = await attacking;
      const isHeld =
        times.p99 <= idle.p99 + LOOKUP_LIMITS.p99OverIdleMs &&
        times.worst <= LOOKUP_LIMITS.worstMs &&
        times.failed === 0 &&
        slowest <= ANSWER_LIMIT_MS;
      say(
        `${one.name}: ${show(times)}; ${count} attacks, slowest ${slowest} ms, ${largest} bytes, ${statuses}: ${isHeld ? 'held' : 'MISSED'}`,
      );
      if (!isHeld) process.exitCode = 1;
    }
  } finally {
    await server.stop();
  }
  say(`load of the machine after: ${loadavg()[0]?.toFixed(1)}`);
}

await main();
