import { signHeads } from '../../src/records/history/signing.ts';
import type { TestApp } from './app.ts';
import { sql } from './records.ts';
import { waitFor } from './wait.ts';

/** Waits until all that is committed is sealed. */
export async function sealed(t: TestApp): Promise<void> {
  await waitFor('the sealer', async () => (await sql(t, 'SELECT 1 FROM unsealed_history LIMIT 1')).length === 0);
}

/** How many rows of an event's history are sealed, when all that is committed is. */
export async function sealedSize(t: TestApp, { eventId }: { eventId: string }): Promise<number> {
  await sealed(t);
  const [row] = await sql<{ size: number }>(t, 'SELECT size FROM event_trees WHERE event_id = $1', [eventId]);
  return row?.size ?? 0;
}

/** Waits until all that is committed is sealed and the heads of all trees are signed. */
export async function signed(t: TestApp): Promise<void> {
  await sealed(t);
  await waitFor('the signed heads', async () => {
    await signHeads(t.deps, t.deps.db.pool);
    const grown = `SELECT 1 FROM event_trees t
      WHERE NOT EXISTS (SELECT 1 FROM event_heads h WHERE h.event_id = t.event_id AND h.size = t.size) LIMIT 1`;
    return (await sql(t, grown)).length === 0;
  });
}
