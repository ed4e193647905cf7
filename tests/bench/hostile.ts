import { loadavg } from 'node:os';
import { setTimeout as sleep } from 'node:timers/promises';
import { Worker } from 'node:worker_threads';
import { once } from 'node:events';
import { HOSTILE_REQUESTS } from '../support/hostile-requests.ts';
import { HOSTILE_TEXTS } from '../support/hostile-texts.ts';
import { type Club, JSON_TYPE, makeClub, send, type Sent, type Server, startServer } from './hostile-server.ts';
import type { Lookups, Times } from './gate-lookups.ts';
import type { LoopTimes } from './loop-watch.ts';

/** Lookups measured for each attack, and at rest. */
const LOOKUPS = 400;
const LOOKUP_LIMITS = { p99OverIdleMs: 50, worstMs: 250 };
const ANSWER_LIMIT_MS = 3000;
/** Of the loop's own thread, at 99.9 %. */
const LOOP_LIMIT_MS = 20;
const IMPORTED = 900;

const say = (text: string) => process.stdout.write(`${text}\n`);

/** Looks a number up again and again from a thread of its own: what it costs to make and read an attack is not the gate's. */
async function lookUp(server: Server, eventId: string): Promise<Times> {
  const workerData: Lookups = {
    url: `${server.base}/v1/events/${eventId}/gate/7`,
    token: server.token,
    count: LOOKUPS,
  };
  const [times] = await once(new Worker(new URL('gate-lookups.js', import.meta.url), { workerData }), 'message');
  return times as Times;
}

interface Attack {
  name: string;
  /** the next request */
  next(): Sent;
}

/** Sends requests of the attack one after the other, until the lookups are done. */
async function run(server: Server, { next }: Attack, isOver: () => boolean) {
  let slowest = { ms: 0, path: '' };
  const statuses = new Set<number>();
  const left: string[] = [];
  let largest = 0;
  let count = 0;
  while (!isOver()) {
    const sent = next();
    const started = performance.now();
    const { status, bytes, location } = await send(server, sent);
    if (status === 202) left.push(location);
    const ms = Math.round(performance.now() - started);
    if (ms > slowest.ms) slowest = { ms, path: sent.path };
    largest = Math.max(largest, bytes);
    statuses.add(status);
    count += 1;
  }
  return { count, slowest, largest, statuses: [...statuses].join(' '), left };
}

/** Until a task has come to its end. */
async function untilDone(server: Server, path: string): Promise<void> {
  for (;;) {
    const { state } = JSON.parse((await send(server, { path })).text) as { state: string };
    if (state === 'done' || state === 'failed') return;
    await sleep(100);
  }
}

/** Takes turns through requests. */
function inTurn(name: string, makers: readonly (() => Sent)[]): Attack {
  let at = 0;
  return {
    name,
    next() {
      const make = makers[at % makers.length];
      at += 1;
      if (make === undefined) throw new Error('nothing to send');
      return make();
    },
  };
}

function attacksOn(club: Club): Attack[] {
  const texts = HOSTILE_TEXTS.map(
    ({ name, type, make }): Attack => ({
      name,
      next: () => ({ path: '/v1/rule-set-checks', headers: { 'content-type': type }, body: make() }),
    }),
  );
  const odd = HOSTILE_REQUESTS.map(({ as, make }) => () => ({ ...make(club), token: club.tokens[as] }));
  let round = 0;
  const limit = () => {
    round += 1;
    return { parameters: { padMinimum: { value: 4 + (round % 40) / 10, unit: 'mm' } } };
  };
  const rules = [
    () => ({
      path: `/v1/events/${club.eventId}/run-groups/${club.runGroupId}/preview`,
      headers: JSON_TYPE,
      body: JSON.stringify(limit()),
    }),
    () => ({
      path: `/v1/rule-sets/${club.ruleSetId}/trial`,
      headers: JSON_TYPE,
      body: JSON.stringify({ eventIds: [club.eventId] }),
    }),
  ];
  const rows = Array.from({ length: IMPORTED }, (_, i) => i);
  const imported = () => {
    round += 1;
    const lines = rows.map((i) => `${i + 1000},Novice,Entrant ${i},Coupé ${i},${900 + (round % 100)}`);
    return {
      path: `/v1/events/${club.eventId}/entries/import`,
      headers: { 'content-type': 'text/csv' },
      body: ['carNumber,runGroup,entrantName,vehicle.description,vehicle.massKg', ...lines].join('\n'),
    };
  };
  const large = [
    `/v1/events/${club.eventId}/gate`,
    `/v1/events/${club.eventId}/gate/snapshot`,
    `/v1/events/${club.eventId}/entries?limit=200`,
    `/v1/events/${club.eventId}/entries/export`,
    `/v1/events/${club.eventId}/readiness`,
    `/v1/run-groups/${club.runGroupId}/resolved-rules`,
  ];
  return [
    ...texts,
    inTurn(`${odd.length} odd requests in turn`, odd),
    inTurn('previews and trials', rules),
    inTurn(`imports of ${IMPORTED} rows`, [imported]),
    inTurn(
      'large answers',
      large.map((path) => () => ({ path })),
    ),
  ];
}

const show = ({ p50, p99, worst, failed }: Times) =>
  `p50 ${p50}, p99 ${p99}, worst ${worst} ms${failed ? `, ${failed} FAILED` : ''}`;
const showLoop = ({ delay, own }: LoopTimes) =>
  `loop p99.9 ${delay.p999}, worst ${delay.worst} ms by the clock; ${own.p999} and ${own.worst} ms of its own`;

/** `npm run bench:hostile`: the gate at rest and under each attack, in one start of the server; `-- pattern`: those whose name it matches. */
async function main(): Promise<void> {
  say(`${new Date().toISOString()}, load of the machine before: ${loadavg()[0]?.toFixed(1)}`);
  const server = await startServer();
  try {
    const club = await makeClub(server);
    const { eventId } = club;
    await send(server, { path: '/v1/rule-set-checks', headers: { 'content-type': 'application/yaml' }, body: 'a: 1' });
    await lookUp(server, eventId);
    await server.readLoop();
    const idle = await lookUp(server, eventId);
    say(`${LOOKUPS} lookups at rest: ${show(idle)}; ${showLoop(await server.readLoop())}`);
    const asked = new RegExp(process.argv[2] ?? '');
    for (const attack of attacksOn(club).filter(({ name }) => asked.test(name))) {
      let isOver = false;
      const attacking = run(server, attack, () => isOver);
      const times = await lookUp(server, eventId).finally(() => (isOver = true));
      const { count, slowest, largest, statuses, left } = await attacking;
      const loop = await server.readLoop();
      // What it left behind is its own: the next one is measured by itself.
      for (const path of left) await untilDone(server, path);
      const isHeld =
        times.p99 <= idle.p99 + LOOKUP_LIMITS.p99OverIdleMs &&
        times.worst <= LOOKUP_LIMITS.worstMs &&
        times.failed === 0 &&
        slowest.ms <= ANSWER_LIMIT_MS &&
        loop.own.p999 <= LOOP_LIMIT_MS;
      say(`${attack.name}: ${show(times)}; ${showLoop(loop)}`);
      say(
        `  ${count} requests, slowest ${slowest.ms} ms (${slowest.path.slice(0, 60)}), ${largest} bytes, ${statuses}: ${isHeld ? 'held' : 'MISSED'}`,
      );
      if (!isHeld) process.exitCode = 1;
    }
  } finally {
    await server.stop();
  }
  say(`load of the machine after: ${loadavg()[0]?.toFixed(1)}`);
}

await main();
