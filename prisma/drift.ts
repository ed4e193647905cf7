import { prismaFolder, schemaFiles } from './files.ts';
import { withSchemaEngine } from './schema-engine.ts';

/**
 * The SQL that would bring a migrated database to `schema.prisma`, as drafted by Prisma's engine; empty when they agree.
 * Only the schema `public` counts, and only what the schema language can say (no checks, partial indexes, triggers).
 */
export async function draftSql(databaseUrl: string): Promise<string> {
  const files = await schemaFiles();
  const result = await withSchemaEngine(databaseUrl, (engine) =>
    engine.diff({
      from: { tag: 'schemaDatasource', files, configDir: prismaFolder() },
      to: { tag: 'schemaDatamodel', files },
      script: true,
      exitCode: null,
      filters: { externalTables: ['public._prisma_migrations'], externalEnums: [] },
    }),
  );
  const script = (result.stdout ?? '').trim();
  return script === '-- This is an empty migration.' ? '' : script;
}
