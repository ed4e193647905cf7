import type { CarFacts } from '../../src/domain/clearance/car-happenings.ts';
import type { ClearanceFacts } from '../../src/domain/clearance/clearance.ts';
import type { ClearanceState } from '../../src/domain/clearance/decide-clearance.ts';
import { STATE_COLUMNS, STATE_JOINS, type StateRow, toClearanceState } from '../../src/records/what-stands.ts';
import type { TestApp } from './app.ts';

/** Rows of an entry's history, oldest first. */
export function historyOf(t: TestApp, entryId: string) {
  return t.deps.db.prisma.history.findMany({ where: { entryId }, orderBy: { seq: 'asc' } });
}

/** The actions in an entry's history and in that of its car, oldest first. */
export async function actionsOf(t: TestApp, entryId: string): Promise<string[]> {
  const { carId } = await t.deps.db.prisma.clearance.findUniqueOrThrow({ where: { entryId } });
  const where = { OR: [{ entryId }, { carId }] };
  // Ids are made in order, by one process here.
  return (await t.deps.db.prisma.history.findMany({ where, orderBy: { id: 'asc' } })).map((row) => row.action);
}

/** Rows of the history of an entry's car, oldest first. */
export async function carHistoryOf(t: TestApp, entryId: string) {
  const { carId } = await t.deps.db.prisma.clearance.findUniqueOrThrow({ where: { entryId } });
  return t.deps.db.prisma.history.findMany({ where: { carId }, orderBy: { seq: 'asc' } });
}

/** What the gate reads of the car of an entry. */
export async function carFactsOf(t: TestApp, entryId: string): Promise<CarFacts> {
  const row = await t.deps.db.prisma.clearance.findUniqueOrThrow({ where: { entryId }, include: { car: true } });
  return row.car.facts as unknown as CarFacts;
}

/** All that decides the clearance of an entry. */
export async function stateOfEntry(t: TestApp, entryId: string): Promise<ClearanceState> {
  const [row] = await sql<StateRow>(
    t,
    `SELECT ${STATE_COLUMNS} FROM clearances c JOIN entries e ON e.id = c.entry_id
      JOIN run_groups g ON g.id = e.run_group_id ${STATE_JOINS} WHERE c.entry_id = $1`,
    [entryId],
  );
  if (row === undefined) throw new Error(`no entry ${entryId}`);
  return toClearanceState(row);
}

/** What the gate reads of an entry. */
export async function factsOf(t: TestApp, entryId: string): Promise<ClearanceFacts> {
  const row = await t.deps.db.prisma.clearance.findUniqueOrThrow({ where: { entryId } });
  return row.facts as unknown as ClearanceFacts;
}

/** The jobs that a request ordered, by name and payload. */
export async function ordered(t: TestApp, answer: { headers: Record<string, string> }) {
  const requestId = answer.headers['x-request-id'] ?? '';
  const rows = await t.deps.db.prisma.outbox.findMany({ where: { requestId }, orderBy: { id: 'asc' } });
  return rows.map(({ name, payload, runAt }) => ({ name, payload, runAt: runAt?.toISOString() }));
}

/** Runs a statement on the plain pool. */
export async function sql<T extends object>(t: TestApp, text: string, values: unknown[] = []): Promise<T[]> {
  return (await t.deps.db.pool.query<T>(text, values)).rows;
}

/** Changes rows past triggers and foreign keys, as somebody with the keys to the database could. */
export async function tamper(t: TestApp, text: string, values: unknown[] = []): Promise<void> {
  const client = await t.deps.db.pool.connect();
  try {
    await client.query('SET session_replication_role = replica');
    await client.query(text, values);
  } finally {
    await client.query('RESET session_replication_role');
    client.release();
  }
}
