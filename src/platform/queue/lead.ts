import pg from 'pg';
import { endsWithin } from '../clock.ts';
import type { Pool } from '../database/db.ts';
import { atMostEvery, type Logger } from '../logger.ts';
import type { Chore } from './job.ts';

/** Says which of all processes on a database does a chore. */
interface Lead {
  /** The same chores, each run only by the process that leads it. Names are the same in every process and version. */
  only(chores: Readonly<Record<string, Chore>>): Chore[];
  /** Gives up every chore that it leads, so that another process may take it at once. */
  stop(): Promise<void>;
}

interface LeadOptions {
  pool: Pool;
  log: Logger;
  /** how often it shows the database that it lives, in milliseconds */
  aliveEveryMs?: number;
  /** after how long a silence the database takes the lead away, in milliseconds */
  silentMs?: number;
}

/** The connection, what is led through it, and the signal that it is gone. */
interface Held {
  client: pg.Client;
  names: Set<string>;
  lost: AbortController;
  pulse: NodeJS.Timeout;
}

/** How the connection is called in the database. */
export const LEAD_NAME = 'gridworthy-lead';
/** First key of the advisory locks of the chores; the second is a hash of the chore's name. */
export const LEAD_LOCK = 7_105_133;
const ALIVE_EVERY_MS = 10_000;
// A process that hangs or is frozen keeps its connection: only the database can end that.
const SILENT_MS = 60_000;
const CLOSE_MS = 1000;
const REPORT_EVERY_MS = 60_000;

/**
 * Lets each chore be done by one process at a time, whichever asked first: a lock of the database, held on one connection
 * for as long as that lives. Whoever loses the connection hears of it by the signal of the chore that runs; what is on
 * its way to the database then may still meet the next leader, so chores stay safe to run twice.
 */
export function openLead({ pool, log, aliveEveryMs = ALIVE_EVERY_MS, silentMs = SILENT_MS }: LeadOptions): Lead {
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) =>
    log.warn({ error }, 'the lead of the chores is lost'),
  );
  let held: Held | undefined;

  const connect = async (): Promise<Held> => {
    const client = new pg.Client({ ...pool.options, application_name: LEAD_NAME });
    const lost = new AbortController();
    const lose = (reason?: unknown) => {
      if (lost.signal.aborted) return;
      clearInterval(pulse);
      lost.abort();
      if (held?.client === client) held = undefined;
      if (reason !== undefined) report(reason);
      // One that is gone already cannot be closed, which is what was wanted.
      client.end().catch(() => undefined);
    };
    const pulse = setInterval(() => void client.query('SELECT 1').catch(lose), aliveEveryMs).unref();
    client.on('error', lose);
    client.on('end', () => lose());
    try {
      await client.connect();
      await client.query(`SET idle_session_timeout = ${silentMs}`);
    } catch (error) {
      lose();
      throw error;
    }
    return { client, names: new Set(), lost, pulse };
  };

  /** Fires when the lead is lost; undefined while another process leads. */
  const take = async (name: string): Promise<AbortSignal | undefined> => {
    held ??= await connect();
    const { client, names, lost } = held;
    if (!names.has(name)) {
      const text = 'SELECT pg_try_advisory_lock($1, hashtext($2)) AS mine';
      const { rows } = await client.query<{ mine: boolean }>(text, [LEAD_LOCK, name]);
      if (rows[0]?.mine !== true) return undefined;
      names.add(name);
      log.debug({ chore: name }, 'this process does the chore');
    }
    return lost.signal;
  };

  return {
    only: (chores) =>
      Object.entries(chores).map(([name, chore]) => async (signal) => {
        const lost = await take(name);
        if (lost !== undefined) await chore(AbortSignal.any([signal, lost]));
      }),
    async stop() {
      const last = held;
      held = undefined;
      if (last === undefined) return;
      clearInterval(last.pulse);
      last.lost.abort();
      // A database that is frozen never confirms it.
      await endsWithin(CLOSE_MS, last.client.end()).catch(() => undefined);
    },
  };
}
