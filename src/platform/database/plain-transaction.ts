import pg from 'pg';
import { againOnConflict, type Pool } from './db.ts';
import { Prisma } from '../prisma-client/client.ts';

/** A statement put together by `Prisma.sql`: its text never has a value in it. */
export type Statement = Prisma.Sql;

/** A transaction on the plain driver, for the writes that are made often. */
export interface PlainTx {
  /** Runs a statement, prepared once per connection. */
  rows<Row>(statement: Statement): Promise<Row[]>;
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

/**
 * As `inTransaction`, past the ORM: runs `fn` at most 3 times when the database asks for it or `fn` throws `RunAgain`.
 *
 * @throws whatever `fn` throws; the transaction is rolled back
 */
export async function inPlainTransaction<T>(pool: Pool, fn: (tx: PlainTx) => Promise<T>): Promise<T> {
  return againOnConflict(async () => {
    const client = await pool.connect();
    let lost: Error | undefined;
    const tx: PlainTx = {
      rows: (statement) =>
        runPrepared<never>(client, statement).catch((error: unknown) => {
          // What the database refused, it can roll back. A connection that gave no answer is not used any more.
          if (!(error instanceof pg.DatabaseError)) lost = error instanceof Error ? error : new Error(String(error));
          throw error;
        }),
    };
    try {
      await tx.rows(BEGIN);
      const result = await fn(tx);
      await tx.rows(COMMIT);
      return result;
    } catch (error) {
      if (lost === undefined) await tx.rows(ROLLBACK).catch(() => undefined);
      throw error;
    } finally {
      client.release(lost);
    }
  });
}

const BEGIN = Prisma.sql`BEGIN`;
const COMMIT = Prisma.sql`COMMIT`;
const ROLLBACK = Prisma.sql`ROLLBACK`;

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
