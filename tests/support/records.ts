import type { ClearanceFacts } from '../../src/domain/clearance.ts';
import type { TestApp } from './app.ts';

/** Rows of an entry's history, oldest first. */
export function historyOf(t: TestApp, entryId: string) {
  return t.deps.db.prisma.history.findMany({ where: { entryId }, orderBy: { seq: 'asc' } });
}

/** The actions in an entry's history, oldest first. */
export async function actionsOf(t: TestApp, entryId: string): Promise<string[]> {
  return (await historyOf(t, entryId)).map((row) => row.action);
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
