import Fastify, { type FastifyInstance } from 'fastify';
import pg from 'pg';
import { LOOKUP } from '../../src/features/gate/store.ts';
import { hashToken } from '../../src/http/access/auth.ts';
import { surviveLostConnections } from '../../src/platform/database/db.ts';

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
    const values = [[hashToken(token)], [eventId], [carNumber], [null], new Date()];
    const { rows } = await pool.query<Row>({ ...LOOKUP, values });
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
