import pg from 'pg';
import type { Pool } from './db.ts';
import { atMostEvery, type Logger } from '../logger.ts';
import { pause } from '../clock.ts';

const REPORT_EVERY_MS = 60_000;
const RETRY_MS = 1000;

export interface ListenOptions {
  channel: string;
  log: Logger;
  /** how the connection is called in the database; `gridworthy-listen` unless told */
  name?: string;
  /** how long to wait before a lost connection is opened again; 1000 unless told */
  retryMs?: number;
  /** gets the payload of each announcement */
  heard(payload: string): void;
  /** whenever listening has begun */
  connected(): void;
}

/**
 * Listens on a channel of the database, on one connection of its own, until stopped; a lost connection is opened again.
 * What is announced while nobody listens is lost, so whoever listens also looks now and then.
 */
export function listenTo(pool: Pool, options: ListenOptions): { stop(): Promise<void> } {
  const stopping = new AbortController();
  const listening = listen(pool, options, stopping.signal);
  return {
    async stop() {
      stopping.abort();
      await listening;
    },
  };
}

async function listen(pool: Pool, options: ListenOptions, stopping: AbortSignal): Promise<void> {
  const { channel, log, name = 'gridworthy-listen', retryMs = RETRY_MS, heard, connected } = options;
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) =>
    log.warn({ error, channel }, 'the wake-up connection failed; looking now and then instead'),
  );
  while (!stopping.aborted) {
    const lost = new AbortController();
    const client = new pg.Client({ ...pool.options, application_name: name });
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
    await pause(retryMs, stopping);
  }
}

function untilAborted(signal: AbortSignal): Promise<void> {
  if (signal.aborted) return Promise.resolve();
  return new Promise((resolve) => signal.addEventListener('abort', () => resolve(), { once: true }));
}
