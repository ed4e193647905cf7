import { createHash } from 'node:crypto';
import { readdir, readFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** One folder of `prisma/migrations`; `checksum` is the SHA-256 of the SQL in hex, as Prisma records it. */
export type Migration = { name: string; sql: string; checksum: string };

/** The folder of `schema.prisma`, also when this file was compiled into `dist/prisma`. */
export function prismaFolder(): string {
  const here = dirname(fileURLToPath(import.meta.url));
  return here.endsWith(join('dist', 'prisma')) ? join(here, '..', '..', 'prisma') : here;
}

/** The schema file in the shape in which the schema engine takes it. */
export async function schemaFiles(): Promise<{ path: string; content: string }[]> {
  const path = join(prismaFolder(), 'schema.prisma');
  return [{ path, content: await readFile(path, 'utf8') }];
}

/** The migrations of this version, oldest first. */
export async function readMigrations(): Promise<Migration[]> {
  const folder = join(prismaFolder(), 'migrations');
  const entries = await readdir(folder, { withFileTypes: true });
  const names = entries.filter((entry) => entry.isDirectory()).map((entry) => entry.name);
  return Promise.all(
    names.toSorted().map(async (name) => {
      const sql = await readFile(join(folder, name, 'migration.sql'), 'utf8');
      return { name, sql, checksum: createHash('sha256').update(sql).digest('hex') };
    }),
  );
}
