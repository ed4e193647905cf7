import { randomUUID } from 'node:crypto';
import { loadavg } from 'node:os';
import { parseArgs } from 'node:util';
import { startBenchService } from '../gate-service.ts';
import { type Club, type ClubEntry, makeClub } from './club.ts';
import { type LoadRequest, startWriteLoad, type WriteLoad } from './load.ts';

/** Entrants who each submit again as soon as they are answered: the evening before the event. */
const ENTRANTS = 200;
const EACH = 6;
const P99_TARGET_MS = 1500;
/** p99 against p50 */
const SPREAD_TARGET = 5;
/** Submits between two looks at the memory. */
const STEP = 500;
const LANES = 20;
/** What the heap may be at the end against the median of the first half: less is noise of the collector. */
const FLAT = 1.15;

const say = (text: string) => process.stdout.write(`${text}\n`);
const load = () => loadavg()[0]?.toFixed(1);
const quantile = (times: readonly number[], share: number) => {
  const sorted = times.toSorted((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? 0;
};

function submitOf(base: string, { answers }: Club, { entryId, token }: ClubEntry): LoadRequest {
  const headers = {
    authorization: `Bearer ${token}`,
    'content-type': 'application/json',
    'idempotency-key': randomUUID(),
  };
  return {
    method: 'POST',
    url: `${base}/v1/entries/${entryId}/inspections`,
    headers,
    body: JSON.stringify({ answers }),
  };
}

const lanesOf = (base: string, club: Club, lanes: number, each: number): LoadRequest[][] =>
  Array.from({ length: lanes }, (_, lane) =>
    Array.from({ length: each }, () => submitOf(base, club, club.entries[lane % club.entries.length] as ClubEntry)),
  );

async function benchCrowd(base: string, club: Club, writers: WriteLoad): Promise<boolean> {
  await writers.run(lanesOf(base, club, ENTRANTS, 1));
  const { times, wallMs, failed } = await writers.run(lanesOf(base, club, ENTRANTS, EACH));
  const [p50, p99] = [quantile(times, 0.5), quantile(times, 0.99)];
  const reached = p99 <= SPREAD_TARGET * p50 && p99 <= P99_TARGET_MS && failed.length === 0;
  say(
    `${ENTRANTS} entrants, ${times.length} submits, load ${load()}: ${((times.length * 1000) / wallMs).toFixed(1)}/s`,
  );
  say(
    `  p50 ${p50.toFixed(0)} ms, p99 ${p99.toFixed(0)} ms, ${(p99 / p50).toFixed(2)} of p50, worst ${quantile(times, 1).toFixed(0)} ms, failed ${failed.length}`,
  );
  for (const one of failed.slice(0, 3)) say(`    ${one}`);
  say(`  target: at most ${SPREAD_TARGET} of p50 and ${P99_TARGET_MS} ms: ${reached ? 'reached' : 'MISSED'}`);
  return reached;
}

const MB = 1_000_000;

/** The heap after a full collection, MB; what the process holds beside it shows in `rss`. */
function heapMb(): number {
  (globalThis as { gc?: () => void }).gc?.();
  return process.memoryUsage().heapUsed / MB;
}

async function benchMemory(base: string, club: Club, writers: WriteLoad, submits: number): Promise<boolean> {
  const heaps: number[] = [];
  let refused = 0;
  say(`memory while ${submits} submits are made, MB (heap after a full collection, resident):`);
  for (let done = 0; done < submits; done += STEP) {
    const { failed } = await writers.run(lanesOf(base, club, LANES, STEP / LANES));
    refused += failed.length;
    heaps.push(heapMb());
    say(`  ${done + STEP}: ${heaps.at(-1)?.toFixed(1)}, ${(process.memoryUsage().rss / MB).toFixed(0)}`);
  }
  const first = quantile(heaps.slice(0, Math.ceil(heaps.length / 2)), 0.5);
  const last = quantile(heaps.slice(-3), 0.5);
  const reached = last <= FLAT * first;
  say(
    `  the end against the first half: ${(last / first).toFixed(2)}, refused ${refused}, target at most ${FLAT}: ${reached ? 'reached' : 'MISSED'}`,
  );
  return reached;
}

/** `npm run bench:crowd`: 200 entrants at once, then the memory over 2,000 submits (`-- --submits 10000`: minutes). */
async function main(): Promise<void> {
  const { values } = parseArgs({ options: { submits: { type: 'string', default: '2000' } } });
  say(`${new Date().toISOString()}, load before ${load()}`);
  // Every request is to be answered, however busy the machine is beside it.
  const service = await startBenchService({ MAX_LOOP_DELAY_MS: '0', MAX_WAIT_MS: '0' });
  const writers = startWriteLoad();
  try {
    const club = await makeClub(service, ENTRANTS);
    const isQuick = await benchCrowd(service.base, club, writers);
    const isFlat = await benchMemory(service.base, club, writers, Number(values.submits));
    if (!isQuick || !isFlat) process.exitCode = 1;
  } finally {
    await writers.stop();
    await service.stop();
  }
}

await main();
