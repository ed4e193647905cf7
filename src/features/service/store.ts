import type { Pool } from '../../platform/db.ts';

const APPLIED = {
  name: 'applied-migrations',
  text: `SELECT migration_name FROM public._prisma_migrations
         WHERE finished_at IS NOT NULL AND rolled_back_at IS NULL`,
};

/** Names of the migrations that this database has. @throws when the database does not answer or was never migrated */
export async function listAppliedMigrations(pool: Pool): Promise<string[]> {
  const { rows } = await pool.query<{ migration_name: string }>(APPLIED);
  return rows.map((row) => row.migration_name);
}
