import type { TestApp } from './app.ts';
import { sql } from './records.ts';

/** Every row of every table of the service as text, by table. */
export async function dumpTables(t: TestApp): Promise<Record<string, string[]>> {
  const tables = await sql<{ name: string }>(
    t,
    `SELECT c.oid::regclass::text AS name FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
      WHERE c.relkind = 'r' AND n.nspname NOT IN ('pg_catalog', 'information_schema') ORDER BY 1`,
  );
  const dump: Record<string, string[]> = {};
  for (const { name } of tables) {
    const rows = await sql<{ text: string }>(t, `SELECT r::text AS text FROM ${name} r`);
    // A signature is chance: in so many letters any short word comes up now and then.
    dump[name] = rows.map((row) =>
      row.text.replace(/(eyJ[\w-]+\.[\w-]+)\.[\w-]+/gu, (_, signed: string) => decoded(signed)),
    );
  }
  return dump;
}

/** What a JWS says: header and payload as text. */
const decoded = (signed: string): string =>
  signed
    .split('.')
    .map((part) => Buffer.from(part, 'base64url').toString('utf8'))
    .join(' ');

/** The tables that hold one of these words in any column, whatever its case. */
export function tablesWith(dump: Record<string, string[]>, words: readonly string[]): string[] {
  const folded = words.map((word) => word.toLowerCase());
  return Object.entries(dump)
    .filter(([, rows]) => rows.some((row) => folded.some((word) => row.toLowerCase().includes(word))))
    .map(([name]) => name);
}
