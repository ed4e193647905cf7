import { loadavg } from 'node:os';
import { setTimeout as wait } from 'node:timers/promises';
import { GOOD_ANSWERS, SMALL_RULE_SET } from '../support/event.ts';
import { startBenchService } from './gate-service.ts';

const IMPORTS = 20;
const ROWS = 500;
const BESIDE = 300;
const P99_TARGET_MS = 500;
const CARS = 40;
const say = (text: string) => process.stdout.write(`${text}\n`);

interface Answer {
  status: number;
  body: Record<string, unknown>;
  etag: string;
  ms: number;
}

type Call = (
  method: string,
  path: string,
  options: { token: string; body?: unknown; csv?: string; ifMatch?: string | undefined },
) => Promise<Answer>;

function caller(base: string): Call {
  return async (method, path, { token, body, csv, ifMatch }) => {
    const started = performance.now();
    const response = await fetch(`${base}/v1${path}`, {
      method,
      headers: {
        authorization: `Bearer ${token}`,
        'idempotency-key': crypto.randomUUID(),
        ...(ifMatch === undefined ? {} : { 'if-match': ifMatch }),
        ...(body === undefined && csv === undefined ? {} : { 'content-type': csv ? 'text/csv' : 'application/json' }),
      },
      ...(body === undefined && csv === undefined ? {} : { body: csv ?? JSON.stringify(body) }),
    });
    const text = await response.text();
    const ms = performance.now() - started;
    return {
      status: response.status,
      body: text === '' ? {} : JSON.parse(text),
      etag: response.headers.get('etag') ?? '',
      ms,
    };
  };
}

interface Club {
  eventId: string;
  chief: string;
  inspector: string;
  entries: { entryId: string; carNumber: string }[];
}

async function makeClub(call: Call, organizer: string): Promise<Club> {
  const made = async (path: string, body: unknown, token = organizer, ifMatch?: string): Promise<Answer['body']> => {
    const answer = await call('POST', path, { token, body, ifMatch });
    if (answer.status >= 300) throw new Error(`${path}: ${answer.status} ${JSON.stringify(answer.body)}`);
    return { ...answer.body, etag: answer.etag };
  };
  const day = new Date().toISOString().slice(0, 10);
  const venue = await made('/venues', { name: 'Bench circuit', timeZone: 'Etc/UTC' });
  const event = await made('/events', {
    name: 'Bench event',
    venueId: venue['venueId'],
    startsOn: day,
    endsOn: day,
    declarationsOpenAt: `${day}T00:00:00Z`,
    declarationsCloseAt: `${day}T23:59:59Z`,
    zeroTwins: 'allow',
  });
  const eventId = String(event['eventId']);
  const rules = await made('/rule-sets', { name: 'Bench rules', document: SMALL_RULE_SET });
  const { ruleSetId } = rules;
  await made(`/rule-sets/${String(ruleSetId)}/publish`, { changelog: 'First' }, organizer, String(rules['etag']));
  const group = await made(`/events/${eventId}/run-groups`, {
    name: 'Novice',
    order: 1,
    firstSessionAt: `${day}T10:00:00Z`,
    ruleSetId,
    ruleSetVersion: 1,
    parameters: {},
  });
  const entries = [];
  for (let i = 0; i < CARS; i += 1) {
    const carNumber = `C${i}`;
    const entrant = { name: `Entrant ${i}` };
    const entry = await made(`/events/${eventId}/entries`, {
      carNumber,
      runGroupId: group['runGroupId'],
      entrant,
      vehicle: { description: 'Club coupé', body: 'closed', powertrain: 'combustion' },
    });
    const entryId = String(entry['entryId']);
    const { token } = await made('/tokens', { role: 'entrant', holder: entrant.name, entryId });
    await made(`/entries/${entryId}/inspections`, { answers: GOOD_ANSWERS }, String(token));
    entries.push({ entryId, carNumber });
  }
  const staff = async (role: string) =>
    String((await made('/tokens', { role, holder: role, eventIds: [eventId] }))['token']);
  return { eventId, chief: await staff('chief'), inspector: await staff('inspector'), entries };
}

const HEAD = 'carNumber,runGroup,entrantName,vehicle.description,vehicle.massKg';
const fileOf = (rows: number, mass: number) =>
  [HEAD, ...Array.from({ length: rows }, (_, i) => `${i},Novice,Entrant ${i},Coupé ${i},${mass}`)].join('\n');

interface Beside {
  times: number[];
  refused: string[];
}

/** Holds and claims, each taken back again, until told to stop; at least `least` of them. */
async function besides(
  call: Call,
  club: Club,
  until: () => boolean,
  { least, everyMs }: { least: number; everyMs: number },
) {
  const told: Beside = { times: [], refused: [] };
  const note = ({ status, ms, body }: Answer) => {
    told.times.push(ms);
    if (status >= 300) told.refused.push(`${status} ${String(body['code'])}`);
  };
  for (let i = 0; !until() || told.times.length < least; i += 1) {
    const { entryId, carNumber } = club.entries[i % CARS] as Club['entries'][number];
    const held = await call('POST', `/entries/${entryId}/holds`, { token: club.chief, body: { reason: 'Bench' } });
    note(held);
    await call('POST', `/holds/${String(held.body['holdId'])}/lift`, { token: club.chief, body: { reason: 'Bench' } });
    const claimed = await call('POST', `/events/${club.eventId}/line/claims`, {
      token: club.inspector,
      body: { carNumber },
    });
    note(claimed);
    await call('DELETE', `/claims/${String(claimed.body['claimId'])}`, { token: club.inspector });
    await wait(everyMs);
  }
  return told;
}

const quantile = (times: readonly number[], q: number) => {
  const sorted = times.toSorted((a, b) => a - b);
  return Math.round(sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))] ?? 0);
};

async function round(
  call: Call,
  club: Club,
  organizer: string,
  what: { imports: number; rows: number; least: number; everyMs: number },
) {
  let ended = false;
  const beside = besides(call, club, () => ended, what);
  const imports: Answer[] = [];
  for (let i = 0; i < what.imports; i += 1) {
    const path = `/events/${club.eventId}/entries/import`;
    imports.push(await call('POST', path, { token: organizer, csv: fileOf(what.rows, 900 + i) }));
  }
  ended = true;
  const { times, refused } = await beside;
  const bad = imports
    .filter(({ status }) => status !== 200)
    .map(({ status, body }) => `${status} ${String(body['code'])}`);
  say(
    `${what.imports} imports of ${what.rows} rows: median ${quantile(
      imports.map(({ ms }) => ms),
      0.5,
    )} ms, refused ${bad.length} ${bad.join(', ')}`,
  );
  say(
    `  beside them ${times.length} holds and claims: p50 ${quantile(times, 0.5)} ms, p99 ${quantile(times, 0.99)} ms, refused ${refused.length} ${[...new Set(refused)].join(', ')}`,
  );
  return { p99: quantile(times, 0.99), refused: refused.length + bad.length };
}

/** `npm run bench:import`: imports beside holds and claims; bounded, about a minute on a quiet machine. */
async function main(): Promise<void> {
  say(`load of the machine before: ${loadavg()[0]?.toFixed(1)}`);
  const service = await startBenchService();
  try {
    const call = caller(service.base);
    const club = await makeClub(call, service.organizer);
    const big = await round(call, club, service.organizer, {
      imports: IMPORTS,
      rows: ROWS,
      least: BESIDE,
      everyMs: 20,
    });
    const small = await round(call, club, service.organizer, { imports: 10, rows: 49, least: 70, everyMs: 100 });
    const reached = big.refused === 0 && small.refused === 0 && big.p99 <= P99_TARGET_MS;
    say(`target: none refused, p99 at most ${P99_TARGET_MS} ms: ${reached ? 'reached' : 'MISSED'}`);
    if (!reached) process.exitCode = 1;
  } finally {
    await service.stop();
  }
}

await main();
