import pg from 'pg';
import type { Deps } from '../deps.ts';
import { surviveLostConnections } from '../platform/db.ts';
import { listenTo } from '../platform/listen.ts';
import { atMostEvery } from '../platform/logger.ts';
import { endsWithin, pause } from '../platform/wait.ts';
import { HISTORY_CHANNEL } from './history.ts';
import { listUnsealedEvents, sealBatch } from './seal.ts';
import { signHeads } from './seal-heads.ts';

/** How often to look for rows that nobody announced. */
const LOOK_EVERY_MS = 1000;
/** How often heads are signed of trees that have grown. */
const SIGN_EVERY_MS = 5000;
const REPORT_EVERY_MS = 60_000;
/** A database that does not answer must not hold up the stop. */
const CLOSE_MS = 2000;

/** What wakes the sealer: events of which something was written, or null for a look at all of them. */
interface Bell {
  ring(eventId: string | null): void;
  /** waits for a ring, or for the time of the next look, and says what to look at */
  wait(): Promise<string[] | null>;
}

/**
 * Seals what is written to events, woken by the statement that wrote it and by looking every second. Any number of
 * processes may: per event one at a time works, the others go on to the next. Has a connection of its own, so that it
 * never waits behind a request; stops after what is committed by then is sealed.
 */
export function startSealer(deps: Deps): { stop(): Promise<void> } {
  const stopping = new AbortController();
  const pool = openPool(deps);
  const bell = openBell(stopping.signal);
  const listening = listenTo(deps.db.pool, {
    channel: HISTORY_CHANNEL,
    log: deps.log,
    name: 'gridworthy-seal-listen',
    heard: (eventId) => bell.ring(eventId),
    // What was committed while nobody listened.
    connected: () => bell.ring(null),
  });
  const running = run(deps, pool, { bell, stopping: stopping.signal });
  return {
    async stop() {
      stopping.abort();
      await endsWithin(CLOSE_MS, Promise.all([running, listening.stop()]));
      await endsWithin(CLOSE_MS, pool.end());
    },
  };
}

async function run(
  deps: Deps,
  pool: pg.Pool,
  { bell, stopping }: { bell: Bell; stopping: AbortSignal },
): Promise<void> {
  // Nothing is lost: rows wait until they are sealed.
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) =>
    deps.log.warn({ error }, 'the history cannot be sealed; it is tried again'),
  );
  let signAt = 0;
  let wanted: string[] | null = null;
  for (;;) {
    // A look that began before the stop may have missed what was committed until then.
    const isLast = stopping.aborted;
    await sealEvents(pool, isLast ? null : wanted, report);
    if (isLast || performance.now() >= signAt) {
      await signHeads(deps, pool).catch(report);
      signAt = performance.now() + SIGN_EVERY_MS;
    }
    if (isLast) return;
    wanted = await bell.wait();
  }
}

/** One that fails must not keep the others from being sealed. */
async function sealEvents(pool: pg.Pool, wanted: string[] | null, report: (error: unknown) => void): Promise<void> {
  const events = wanted ?? (await listUnsealedEvents(pool).catch(failed));
  for (const eventId of events) {
    try {
      while (await sealBatch(pool, eventId));
    } catch (error) {
      report(error);
    }
  }
  function failed(error: unknown): [] {
    report(error);
    return [];
  }
}

function openBell(stopping: AbortSignal): Bell {
  const told = new Set<string>();
  let all = false;
  let rung = new AbortController();
  let lookAt = performance.now() + LOOK_EVERY_MS;
  return {
    ring(eventId) {
      if (eventId === null) all = true;
      else told.add(eventId);
      rung.abort();
    },
    async wait() {
      await pause(Math.max(0, lookAt - performance.now()), AbortSignal.any([rung.signal, stopping]));
      rung = new AbortController();
      const isDue = all || performance.now() >= lookAt;
      const events = [...told];
      told.clear();
      all = false;
      if (!isDue) return events;
      lookAt = performance.now() + LOOK_EVERY_MS;
      return null;
    },
  };
}

function openPool({ db, log }: Deps): pg.Pool {
  const { options } = db.pool as unknown as { options: pg.PoolConfig };
  const pool = new pg.Pool({ ...options, max: 1, application_name: 'gridworthy-seal' });
  surviveLostConnections(pool, (error) => log.warn({ error }, 'connection of the sealer lost'));
  return pool;
}
