import fc from 'fast-check';
import type { InjectOptions } from 'fastify';
import type { TestApp } from '../support/app.ts';
import { readApi } from './api-model.ts';
import { buildRequest, type Sent, type World } from './build-request.ts';
import { type Answer, type Fault, faultsOf, parseJson } from './checks.ts';
import { makePictures } from './pictures.ts';
import { openPool } from './pool.ts';
import { arbRecipe } from './recipe.ts';
import { schemaValues } from './schema-values.ts';
import { addEvent, makeCallers } from './world.ts';

/** Sends one request; tests put faults in between here. */
export type Send = (sent: Sent) => Promise<Answer>;

export interface Finding extends Fault {
  operation: string;
  curl: string;
  answer: string;
  /** how many requests had been sent */
  after: number;
  /** how often the same was met */
  times: number;
}

export interface FuzzReport {
  seed: number;
  requests: number;
  seconds: number;
  /** of this process: what the run costs whatever else the machine does */
  cpuSeconds: number;
  operations: readonly string[];
  /** operations that answered with a success at least once */
  succeeded: ReadonlySet<string>;
  byStatus: ReadonlyMap<number, number>;
  slowest: readonly { operation: string; ms: number; curl: string }[];
  findings: readonly Finding[];
}

const BATCH = 16;
/** Run groups, entries and tokens wear out: they are withdrawn, moved, revoked. */
const FRESH_EVENT_AFTER = 1024;

/**
 * Sends requests to every operation in every role, in batches that are answered at once, and holds each answer against
 * the document. The same seed makes the same choices; ids differ, because the application makes them.
 *
 * @param options `until` stops early
 */
export async function fuzz(
  test: TestApp,
  options: { seed: number; requests: number; send?: Send; until?(findings: readonly Finding[]): boolean },
): Promise<FuzzReport> {
  const { seed, requests, send = (sent) => inject(test, sent), until = () => false } = options;
  const world = await openWorld(test);
  // A batch is too short for the library's own preference of small and extreme values; ours stand in the recipes.
  const recipes = fc.noBias(arbRecipe(world.api, schemaValues(world.api)));
  const tally = openTally(
    seed,
    world.api.operations.map(({ id }) => id),
  );
  for (let sent = 0; sent < requests && !until(tally.findings()); sent += BATCH) {
    if (sent > 0 && sent % FRESH_EVENT_AFTER < BATCH) await refresh(test, world);
    const batch = fc
      .sample(recipes, { seed: mixed(seed, sent), numRuns: BATCH })
      .map((recipe) => buildRequest(recipe, world));
    const answers = await Promise.all(batch.map(send));
    for (const [i, request] of batch.entries()) {
      const answer = answers[i] as Answer;
      tally.add(request, answer, faultsOf(world.api, request, answer, world.pool.ownerOf));
      learn(world, request, answer);
    }
  }
  return tally.report();
}

/** Seeds that lie close together make batches that are alike, so that some operations would hardly be asked. */
function mixed(seed: number, place: number): number {
  let hash = Math.imul(seed ^ 0x9e_37_79_b9, 0x85_eb_ca_6b) ^ Math.imul(place + 1, 0xc2_b2_ae_35);
  hash = Math.imul(hash ^ (hash >>> 15), 0x2c_1b_3c_6d);
  hash = Math.imul(hash ^ (hash >>> 12), 0x29_7a_2d_39);
  return hash ^ (hash >>> 15);
}

interface FuzzWorld extends World {
  staff: World['callers'];
}

async function openWorld(test: TestApp): Promise<FuzzWorld> {
  const pool = openPool();
  const staff = await makeCallers(test, pool);
  const { entrants } = await addEvent(test, pool, staff);
  let key = 0;
  let number = 0;
  return {
    api: readApi(test.app),
    pool,
    staff,
    callers: [...staff, ...entrants],
    pictures: await makePictures(),
    keys: new Map(),
    nextKey: () => `key-${(key += 1)}`,
    nextNumber: () => `z${((number += 1)).toString(36)}`.slice(0, 4),
  };
}

async function refresh(test: TestApp, world: FuzzWorld): Promise<void> {
  const { entrants } = await addEvent(test, world.pool, world.staff);
  world.callers = [...world.staff, ...entrants];
}

/** Sends a request to the application in this process. */
export async function inject(test: TestApp, { method, url, headers, payload }: Sent): Promise<Answer> {
  const start = performance.now();
  const request = { method: method as 'GET', url, headers, ...(payload === undefined ? {} : { payload }) };
  if (ENDLESS.test(url)) return injectEndless(test, request, start);
  const answer = await test.app.inject(request);
  const { statusCode, body } = answer;
  return { status: statusCode, headers: answer.headers, text: body, ms: performance.now() - start };
}

/** An answer without end: only its beginning is read. What follows is the matter of the stream's own tests. */
const ENDLESS = /\/stream(?:\?|$)/;

async function injectEndless({ app }: TestApp, request: InjectOptions, start: number): Promise<Answer> {
  const answer = await app.inject({ ...request, payloadAsStream: true });
  const { statusCode: status, headers } = answer;
  const isEndless = String(headers['content-type']).startsWith('text/event-stream');
  let text = '';
  for await (const chunk of answer.stream()) {
    text += String(chunk);
    if (isEndless) break;
  }
  if (isEndless) answer.raw.res.destroy();
  return { status, headers, text, ms: performance.now() - start };
}

function learn({ pool }: World, { url, path, addressFits }: Sent, answer: Answer): void {
  const { etag } = answer.headers;
  // Also a refusal tells the current version.
  if (typeof etag === 'string') pool.learnEtag(url.split('?')[0] ?? '', etag);
  if (answer.status < 300 && addressFits) pool.learn(parseJson(answer.text), path);
}

/** The request as a line for a shell, with its seed beside it in the report. */
export function curlOf({ method, url, headers, payload }: Sent): string {
  const quote = (text: string) => `'${text.replaceAll("'", `'\\''`)}'`;
  const fields = Object.entries(headers).flatMap(([name, value]) =>
    [value]
      .flat()
      .map((one) => `-H ${quote(`${name}: ${name === 'authorization' ? 'Bearer $TOKEN' : one.slice(0, 200)}`)}`),
  );
  const text = payload?.toString('utf8');
  const data =
    text === undefined
      ? []
      : [`--data-binary ${quote(text.length > 1500 ? `${text.slice(0, 1500)}…(${text.length})` : text)}`];
  return ['curl', '-X', method, quote(`$SERVER${url.slice(0, 500)}`), ...fields, ...data].join(' ');
}

function cpuSince(start: NodeJS.CpuUsage): number {
  const { user, system } = process.cpuUsage(start);
  return (user + system) / 1e6;
}

function openTally(seed: number, operations: readonly string[]) {
  const start = performance.now();
  const cpu = process.cpuUsage();
  const found = new Map<string, Finding>();
  const succeeded = new Set<string>();
  const byStatus = new Map<number, number>();
  let slowest: { operation: string; ms: number; curl: string }[] = [];
  let requests = 0;
  return {
    findings: () => [...found.values()],
    add(sent: Sent, answer: Answer, faults: readonly Fault[]) {
      requests += 1;
      const operation = `${sent.method} ${sent.operation.path}`;
      byStatus.set(answer.status, (byStatus.get(answer.status) ?? 0) + 1);
      if (answer.status < 300 && sent.method === sent.operation.method) succeeded.add(sent.operation.id);
      if (slowest.length < 5 || answer.ms > (slowest.at(-1)?.ms ?? 0)) {
        slowest = [...slowest, { operation, ms: answer.ms, curl: curlOf(sent) }]
          .toSorted((a, b) => b.ms - a.ms)
          .slice(0, 5);
      }
      for (const { kind, detail } of faults) {
        const key = `${operation} ${kind} ${detail.replaceAll(/[0-9a-f-]{36}|\d+ ms/g, '')}`;
        const known = found.get(key);
        if (known !== undefined) known.times += 1;
        else
          found.set(key, {
            kind,
            detail,
            operation,
            curl: curlOf(sent),
            answer: answer.text.slice(0, 600),
            after: requests,
            times: 1,
          });
      }
    },
    report: (): FuzzReport => ({
      seed,
      requests,
      seconds: (performance.now() - start) / 1000,
      cpuSeconds: cpuSince(cpu),
      operations,
      succeeded,
      byStatus,
      slowest,
      findings: [...found.values()],
    }),
  };
}
