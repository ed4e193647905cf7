import { type ChildProcess, spawn } from 'node:child_process';
import { randomBytes } from 'node:crypto';
import { once } from 'node:events';
import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { GOOD_ANSWERS, SMALL_RULE_SET } from '../support/event.ts';
import type { LoopTimes } from './loop-watch.ts';

/** Cars that have declared: what trials and previews judge. */
const CARS = 60;

const compiled = (path: string) => fileURLToPath(new URL(path, import.meta.url));

export interface Server {
  base: string;
  token: string;
  /** what its loop was held up by since this was asked last */
  readLoop(): Promise<LoopTimes>;
  stop(): Promise<void>;
}

/** The built server as a process of its own, with everything in a folder that goes when it ends. */
export async function startServer(): Promise<Server> {
  const folder = await mkdtemp(join(tmpdir(), 'gridworthy-hostile-'));
  await chmod(folder, 0o711);
  const token = `gw_${randomBytes(32).toString('base64url')}`;
  const child = spawn(
    process.execPath,
    [
      '--enable-source-maps',
      '--import',
      new URL('loop-watch.js', import.meta.url).href,
      compiled('../../src/server.js'),
    ],
    {
      env: {
        PATH: process.env['PATH'],
        PORT: '0',
        DATA_DIR: join(folder, 'data'),
        ORGANIZER_TOKEN: token,
        RATE_LIMIT_PER_MINUTE: '1000000',
      },
      stdio: ['ignore', 'pipe', 'inherit', 'ipc'],
    },
  );
  const ended = once(child, 'exit');
  const base = await findBase(child);
  return {
    base,
    token,
    async readLoop() {
      child.send('read');
      const [times] = await once(child, 'message');
      return times as LoopTimes;
    },
    async stop() {
      child.kill('SIGTERM');
      await ended;
      await rm(folder, { recursive: true, force: true });
    },
  };
}

async function findBase({ stdout }: ChildProcess): Promise<string> {
  if (stdout === null) throw new Error('the server has no output');
  for await (const line of createInterface({ input: stdout })) {
    const found = /"api":"([^"]+)\/v1"/.exec(line);
    if (found?.[1] === undefined) continue;
    stdout.resume();
    return found[1];
  }
  throw new Error('the server did not start');
}

export interface Sent {
  path: string;
  method?: string;
  headers?: Record<string, string>;
  body?: string;
  token?: string;
}

export async function send(server: Server, { path, method, headers, body, token = server.token }: Sent) {
  const answer = await fetch(server.base + path, {
    method: method ?? (body === undefined ? 'GET' : 'POST'),
    headers: { authorization: `Bearer ${token}`, ...headers },
    ...(body !== undefined && { body }),
  });
  const text = await answer.text();
  const { status, headers: got } = answer;
  const [etag, location] = ['etag', 'location'].map((name) => got.get(name) ?? '');
  return { status, text, bytes: Buffer.byteLength(text), etag: etag ?? '', location: location ?? '' };
}

export const JSON_TYPE = { 'content-type': 'application/json' };

export interface Club {
  venueId: string;
  eventId: string;
  runGroupId: string;
  ruleSetId: string;
  entryId: string;
  tokens: Record<'organizer' | 'entrant' | 'marshal', string>;
}

/** An event today with cars that have declared. */
export async function makeClub(server: Server): Promise<Club> {
  const post = async (path: string, value: unknown, more: Partial<Sent> = {}) => {
    const answer = await send(server, {
      path,
      body: JSON.stringify(value),
      ...more,
      headers: { ...JSON_TYPE, ...more.headers },
    });
    if (answer.status >= 300) throw new Error(`${path}: ${answer.status} ${answer.text}`);
    return { ...JSON.parse(answer.text), etag: answer.etag } as Record<string, string> & { etag: string };
  };
  const day = new Date().toISOString().slice(0, 10);
  const { venueId = '' } = await post('/v1/venues', { name: 'Bench circuit', timeZone: 'Etc/UTC' });
  const { eventId = '' } = await post('/v1/events', {
    name: 'Bench event',
    venueId,
    startsOn: day,
    endsOn: day,
    declarationsOpenAt: `${day}T00:00:00Z`,
    declarationsCloseAt: `${day}T23:59:59Z`,
  });
  const rules = await post('/v1/rule-sets', { name: 'Bench rules', document: SMALL_RULE_SET });
  const { ruleSetId = '' } = rules;
  await post(`/v1/rule-sets/${ruleSetId}/publish`, { changelog: 'First' }, { headers: { 'if-match': rules.etag } });
  const { runGroupId = '' } = await post(`/v1/events/${eventId}/run-groups`, {
    name: 'Novice',
    order: 1,
    firstSessionAt: `${day}T10:00:00Z`,
    ruleSetId,
    ruleSetVersion: 1,
    parameters: {},
  });
  const vehicle = { description: 'Club coupé', body: 'closed', powertrain: 'combustion' };
  let entryId = '';
  let entrant = '';
  for (let i = 0; i < CARS; i += 1) {
    const name = `Entrant ${i}`;
    const entry = await post(`/v1/events/${eventId}/entries`, {
      carNumber: `C${i}`,
      runGroupId,
      entrant: { name },
      vehicle,
    });
    entryId = entry['entryId'] ?? '';
    entrant = (await post('/v1/tokens', { role: 'entrant', holder: name, entryId }))['token'] ?? '';
    const headers = { 'idempotency-key': crypto.randomUUID() };
    await post(`/v1/entries/${entryId}/inspections`, { answers: GOOD_ANSWERS }, { token: entrant, headers });
  }
  const { token: marshal = '' } = await post('/v1/tokens', { role: 'marshal', holder: 'Gate', eventIds: [eventId] });
  return { venueId, eventId, runGroupId, ruleSetId, entryId, tokens: { organizer: server.token, entrant, marshal } };
}
