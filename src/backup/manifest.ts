import { z } from 'zod';

export const MANIFEST = 'manifest.json';
export const END = 'end.json';

const Name = z.string().regex(/^[a-z_]{1,63}$/);
const Hash = z.string().regex(/^[0-9a-f]{64}$/);

/** The first file of a backup: what is in it. */
export const Manifest = z.object({
  format: z.literal('gridworthy-backup'),
  formatVersion: z.literal(1),
  createdAt: z.iso.datetime(),
  /** in the order in which they were applied */
  migrations: z.array(z.object({ name: z.string(), checksum: Hash })).min(1),
  /** in an order in which rows only refer to rows before them */
  tables: z.array(z.object({ name: Name, columns: z.array(z.string()).min(1) })).min(1),
});
export type Manifest = z.infer<typeof Manifest>;

/** The last file of a backup: what came before it. A backup without it was cut off. */
export const End = z.object({
  rows: z.record(Name, z.int().min(0)),
  photos: z.int().min(0),
  /** contents that photos name and the store no longer had */
  missingPhotos: z.array(Hash),
  files: z.array(z.object({ name: z.string(), sha256: Hash })),
});
export type End = z.infer<typeof End>;

export const tableFile = (table: string, part: number) => `tables/${table}/${String(part).padStart(6, '0')}.jsonl`;
export const photoFile = (hash: string) => `photos/${hash}`;

/** The table or the photo that a file of a backup belongs to. */
export function partOf(name: string): { table: string } | { photo: string } | undefined {
  const table = /^tables\/([a-z_]{1,63})\/\d+\.jsonl$/.exec(name)?.[1];
  if (table !== undefined) return { table };
  const photo = /^photos\/([0-9a-f]{64})$/.exec(name)?.[1];
  return photo === undefined ? undefined : { photo };
}

/** Rows of a table, each as PostgreSQL writes a composite value, one JSON text per line. */
export const encodeRows = (rows: readonly string[]) =>
  Buffer.from(rows.map((row) => `${JSON.stringify(row)}\n`).join(''), 'utf8');

export const decodeRows = (bytes: Buffer): string[] =>
  bytes
    .toString('utf8')
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => z.string().parse(JSON.parse(line)));
