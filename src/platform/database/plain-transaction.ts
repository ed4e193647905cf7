import pg from 'pg';
import { currentTrace } from '../telemetry/trace.ts';
import { againOnConflict, belongTo, type Pool, RunAgain } from './db.ts';
import { Prisma } from '../prisma-client/client.ts';

/** A statement put together by `Prisma.sql`: its text never has a value in it. */
export type Statement = Prisma.Sql;

/**
 * A transaction on the plain driver, for the writes that are made often. What is asked for without waiting goes out in one packet
 * and is done in that order, each statement seeing what the one before it waited for.
 */
export interface PlainTx {
  /** Runs a statement, prepared once per connection. */
  rows<Row>(statement: Statement): Promise<Row[]>;
  /** Runs the last statement and commits, in one packet; what the statement refuses is rolled back. */
  commitWith<Row>(statement: Statement): Promise<Row[]>;
}

/** Names of prepared statements by their text; what comes after that many is not kept prepared. */
const names = new Map<string, string>();
const MAX_NAMED = 300;

function nameOf(text: string): string | undefined {
  const known = names.get(text);
  if (known !== undefined || names.size >= MAX_NAMED) return known;
  const name = `w${names.size + 1}`;
  names.set(text, name);
  return name;
}

/** Runs a statement by the plain driver, prepared once per connection, without a transaction around it. */
export async function runPrepared<Row>(on: Pool | pg.ClientBase, statement: Statement): Promise<Row[]> {
  const { text, values } = statement;
  const name = nameOf(text);
  const { rows } = await on.query<Row & pg.QueryResultRow>({ ...(name === undefined ? {} : { name }), text, values });
  return rows;
}

/** What reads and writes on one connection, in a transaction or without. */
export type OnConnection = Pick<PlainTx, 'rows'>;

/** Runs several statements on one connection, each for itself: one that is sent is under way while the code goes on. */
export async function onOneConnection<T>(pool: Pool, fn: (on: OnConnection) => Promise<T>): Promise<T> {
  const client = await pool.connect();
  try {
    return await fn({ rows: (statement) => runPrepared(client, statement) });
  } finally {
    client.release();
  }
}

/**
 * As `inTransaction`, past the ORM: runs `fn` at most 3 times when the database asks for it or `fn` throws `RunAgain`.
 *
 * @throws whatever `fn` throws; the transaction is rolled back
 */
export async function inPlainTransaction<T>(pool: Pool, fn: (tx: PlainTx) => Promise<T>): Promise<T> {
  const trace = currentTrace();
  return againOnConflict(async () => {
    const client = await pool.connect();
    const open = begin(client);
    try {
      // In the packet of the first statement, and before it.
      const said = trace === undefined ? undefined : open.tx.rows(belongTo(trace));
      const [result] = await Promise.all([fn(open.tx), said]);
      await open.end('COMMIT');
      return result;
    } catch (error) {
      await open.end('ROLLBACK').catch(() => undefined);
      throw error;
    } finally {
      client.release(open.lost());
    }
  });
}

/** Plans are made once per connection and not for each of the first five times: these statements have one good plan. */
const BEGIN = 'BEGIN; SET LOCAL plan_cache_mode = force_generic_plan';

/** A transaction that begins in the packet of its first statement, and ends once. */
function begin(client: pg.PoolClient) {
  let lost: Error | undefined;
  let ended: Promise<void> | undefined;
  const send = <T>(ask: () => Promise<T>): Promise<T> => {
    inOnePacket(client);
    return ask().catch((error: unknown) => {
      // What the database refused, it can roll back. A connection that gave no answer is not used any more.
      if (!(error instanceof pg.DatabaseError)) lost = error instanceof Error ? error : new Error(String(error));
      throw error;
    });
  };
  const begun = send(() => client.query(BEGIN));
  const rows = async <Row>(statement: Statement): Promise<Row[]> => {
    const [, read] = await Promise.all([begun, send(() => runPrepared<Row>(client, statement))]);
    return read;
  };
  const end = async (how: 'COMMIT' | 'ROLLBACK'): Promise<void> => {
    if (lost !== undefined) return;
    ended ??= send(() => client.query(how)).then(({ command }) => {
      if (command !== how) throw new Error('The transaction had failed before it was to be committed.');
    });
    await Promise.all([begun, ended]);
  };
  const commitWith = async <Row>(statement: Statement): Promise<Row[]> => {
    const [written] = await Promise.all([rows<Row>(statement), end('COMMIT')]).catch(againWhereNothing);
    return written;
  };
  return { tx: { rows, commitWith }, end, lost: () => lost };
}

/** What is sent in one turn of the loop goes out as one packet. */
function inOnePacket({ connection: { stream } }: pg.PoolClient): void {
  stream.cork();
  process.nextTick(() => stream.uncork());
}

const DIVISION_BY_ZERO = '22012';

/** In the result of `writeAtOnce`: the whole transaction runs again where this part changed no row. */
export const mustChange = (part: string): Statement =>
  // An error is what keeps a COMMIT that was sent along from committing.
  Prisma.sql`1 / (SELECT count(*)::int FROM ${Prisma.raw(`"${part}"`)}) AS ${Prisma.raw(`"${part}"`)}`;

function againWhereNothing(error: unknown): never {
  if (!(error instanceof pg.DatabaseError) || error.code !== DIVISION_BY_ZERO) throw error;
  throw new RunAgain('what had to change a row changed none');
}

/**
 * One statement that makes several changes. All parts see the database as it was before; a part that needs another done first
 * reads what that one returns.
 *
 * @param parts each a writing statement, by the name under which the others and `result` read what it returns
 * @param result expressions of the one row that it gives
 */
export function writeAtOnce(parts: Readonly<Record<string, Statement>>, result: Statement): Statement {
  const named = Object.entries(parts).map(([name, part]) => Prisma.sql`${Prisma.raw(`"${name}"`)} AS (${part})`);
  return Prisma.sql`WITH ${Prisma.join(named, ', ')} SELECT ${result}`;
}
