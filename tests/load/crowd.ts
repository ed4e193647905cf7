import { randomUUID } from 'node:crypto';
import type { Client } from './http-client.ts';
import type { Measures } from './measures.ts';
import type { Paddock } from './paddock.ts';

/** How often each asks, in milliseconds between two questions of one person. */
export interface Pace {
  submitEveryMs: number;
  inspectEveryMs: number;
  lookupEveryMs: number;
}

interface Crowd {
  client: Client;
  paddock: Paddock;
  pace: Pace;
  measures: Measures;
  signal: AbortSignal;
}

/**
 * Everybody asks at his own pace until the signal, and then waits for the answers that are still out. Entrants and
 * marshals ask whether or not the last answer came: a crowd does not slow down because the server does.
 */
export async function crowdIn(crowd: Crowd): Promise<void> {
  const { paddock, pace, signal } = crowd;
  await Promise.all([
    ...paddock.entrants.map((entrant) => steadily(pace.submitEveryMs, signal, () => submit(crowd, entrant))),
    ...paddock.marshals.map((token) => steadily(pace.lookupEveryMs, signal, () => lookUp(crowd, token))),
    ...paddock.inspectors.map((token) => inspect(crowd, token)),
  ]);
}

/** Starts a task at a steady pace, from a random instant of the first interval on. */
async function steadily(everyMs: number, signal: AbortSignal, task: () => Promise<void>): Promise<void> {
  const running = new Set<Promise<void>>();
  let next = performance.now() + Math.random() * everyMs;
  while (!signal.aborted) {
    await rest(next - performance.now(), signal);
    if (signal.aborted) break;
    const one = task();
    running.add(one);
    void one.then(() => running.delete(one));
    next += everyMs;
  }
  await Promise.all(running);
}

async function submit({ client, measures }: Crowd, { entryId, token, answers }: Paddock['entrants'][number]) {
  const path = `/v1/entries/${entryId}/inspections`;
  measures.add('submit', await client.ask({ method: 'POST', path, token, body: { answers }, key: randomUUID() }));
}

async function lookUp({ client, measures, paddock }: Crowd, token: string): Promise<void> {
  const car = paddock.entrants[Math.floor(Math.random() * paddock.entrants.length)];
  const path = `/v1/events/${paddock.eventId}/gate/${car?.carNumber}`;
  measures.add('lookup', await client.ask({ method: 'GET', path, token }));
}

/** One car after the other. What he got he signs off, asking again while he is told to come back. */
async function inspect(crowd: Crowd, token: string): Promise<void> {
  const { client, measures, paddock, pace, signal } = crowd;
  const path = `/v1/events/${paddock.eventId}/line/claims`;
  await rest(Math.random() * pace.inspectEveryMs, signal);
  while (!signal.aborted) {
    const claim = await client.ask({ method: 'POST', path, token, body: {} });
    measures.add('claim', claim);
    await rest(pace.inspectEveryMs / 2, signal);
    if (claim.status === 201) await signOff(crowd, token, String(claim.body['claimId']));
    await rest(pace.inspectEveryMs / 2, signal);
  }
}

async function signOff({ client, measures, pace }: Crowd, token: string, claimId: string): Promise<void> {
  const key = randomUUID();
  const stickerNumber = key.replaceAll('-', '').slice(0, 12);
  const body = { decision: 'accept', stickerNumber, checks: [] };
  const path = `/v1/claims/${claimId}/sign-off`;
  for (let tries = 0; tries < 20; tries += 1) {
    const reply = await client.ask({ method: 'POST', path, token, body, key });
    measures.add('sign-off', reply);
    if (reply.status > 0 && reply.status < 500 && reply.status !== 429) return;
    await rest(pace.inspectEveryMs);
  }
}

function rest(ms: number, signal?: AbortSignal): Promise<void> {
  if (ms <= 0) return Promise.resolve();
  return new Promise((resolve) => {
    const timer = setTimeout(done, ms);
    function done(): void {
      clearTimeout(timer);
      signal?.removeEventListener('abort', done);
      resolve();
    }
    signal?.addEventListener('abort', done, { once: true });
  });
}
