import pg from 'pg';
import type { Pool } from './db.ts';
import { atMostEvery, type Logger } from './logger.ts';
import { pause } from './wait.ts';

const REPORT_EVERY_MS = 60_000;
const RETRY_MS = 1000;

/**
 * Listens on a channel of the database, on one connection of its own, until stopped; a lost connection is opened again.
 * What is announced while nobody listens is lost, so whoever listens also looks now and then.
 *
 * @param options `heard` gets the payload of each announcement; `connected` is called whenever listening has begun
 */
export function listenTo(
  pool: Pool,
  options: { channel: string; log: Logger; heard(payload: string): void; connected(): void },
): { stop(): Promise<void> } {
  const stopping = new AbortController();
  const listening = listen(pool, options, stopping.signal);
  return {
    async stop() {
      stopping.abort();
      await listening;
    },
  };
}

async function listen(pool: Pool, options: Parameters<typeof listenTo>[1], stopping: AbortSignal): Promise<void> {
  const { channel, log, heard, connected } = options;
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) =>
    log.warn({ error, channel }, 'the wake-up connection failed; looking now and then instead'),
  );
  while (!stopping.aborted) {
    const lost = new AbortController();
    const client = new pg.Client({ ...pool.options, application_name: 'gridworthy-listen' });
    client.on('error', (error) => {
      report(error);
      lost.abort();
    });
    client.on('end', () => lost.abort());
    client.on('notification', ({ payload }) => heard(payload ?? ''));
    try {
      await client.connect();
      await client.query(`LISTEN ${channel}`);
      connected();
      await untilAborted(AbortSignal.any([stopping, lost.signal]));
    } catch (error) {
      report(error);
    }
    // A connection that is gone cannot be closed, which is what was wanted.
    await client.end().catch(() => undefined);
    await pause(RETRY_MS, stopping);
  }
}

function untilAborted(signal: AbortSignal): Promise<void> {
  if (signal.aborted) return Promise.resolve();
  return new Promise((resolve) => signal.addEventListener('abort', () => resolve(), { once: true }));
}
