import Fastify, { type FastifyInstance } from 'fastify';
import pg from 'pg';
import { hashToken } from '../../src/http/access/auth.ts';
import { surviveLostConnections } from '../../src/platform/database/db.ts';

// What the gate of the service reads for one car: who asks, the clearance, and the names to show with it.
const SAME_SELECT = {
  name: 'bench-same-select',
  text: `
    SELECT t.id, t.role, t.holder, t.entry_id, f.*
    FROM tokens t LEFT JOIN LATERAL (
      SELECT c.entry_id AS clearance_entry_id, c.car_number, e.run_group_id, g.name AS run_group,
        v.record->>'description' AS vehicle, v.record->>'colour' AS colour, c.facts
      FROM clearances c JOIN entries e ON e.id = c.entry_id JOIN run_groups g ON g.id = e.run_group_id
        JOIN vehicles v ON v.id = e.vehicle_id
      WHERE c.event_id = $2 AND c.car_number = $3 AND ($4::uuid IS NULL OR e.run_group_id = $4)
      ORDER BY g.sort_order, g.id
    ) f ON true
    WHERE t.hash = $1 AND t.revoked_at IS NULL`,
};

const SMALL_SELECT = {
  name: 'bench-small-select',
  text: 'SELECT entry_id, car_number, facts FROM clearances WHERE event_id = $1 AND car_number = $2',
};

const LOG_INSERT = {
  name: 'bench-log-insert',
  text: `INSERT INTO gate_checks (id, event_id, car_number, admit, status, asked_by, asked_name, asked_at)
    VALUES (gen_random_uuid(), $1, $2, true, 'clear', $3, $4, now())`,
};

interface Params {
  eventId: string;
  carNumber: string;
}

interface Row {
  id: string;
  holder: string;
}

/**
 * Bare routes to compare with, on a pool of the same options as the service's: no token check beyond what the
 * statement does, no validation, no log lines, no headers, no decision; the row goes out as it came.
 * `/same`: the statement of the service's lookup. `/small`: one row of one table. `/logged`: `/same`, and a row in the
 * log of lookups before the answer, as the service must write one.
 */
export async function startBaselines(
  options: pg.PoolConfig,
  token: string,
): Promise<{ base: string; close(): Promise<void> }> {
  const pool = new pg.Pool({ ...options, application_name: 'gridworthy-bench-baseline' });
  const logPool = new pg.Pool({ ...options, options: '-c synchronous_commit=off' });
  for (const one of [pool, logPool]) surviveLostConnections(one, () => undefined);
  const app: FastifyInstance = Fastify();
  const same = async ({ eventId, carNumber }: Params) => {
    const { rows } = await pool.query<Row>({ ...SAME_SELECT, values: [hashToken(token), eventId, carNumber, null] });
    return rows[0];
  };
  app.get<{ Params: Params }>('/same/:eventId/:carNumber', ({ params }) => same(params));
  app.get<{ Params: Params }>('/small/:eventId/:carNumber', async ({ params: { eventId, carNumber } }) => {
    const { rows } = await pool.query<Row>({ ...SMALL_SELECT, values: [eventId, carNumber] });
    return rows[0];
  });
  app.get<{ Params: Params }>('/logged/:eventId/:carNumber', async ({ params }) => {
    const row = await same(params);
    await logPool.query({ ...LOG_INSERT, values: [params.eventId, params.carNumber, row?.id, row?.holder] });
    return row;
  });
  const base = await app.listen({ port: 0, host: '127.0.0.1' });
  return {
    base,
    async close() {
      await app.close();
      await pool.end();
      await logPool.end();
    },
  };
}
