import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { PrismaPg } from '@prisma/adapter-pg';
import {
  bindMigrationAwareSqlAdapterFactory,
  ColumnTypeEnum,
  DriverAdapterError,
  type SqlDriverAdapter,
  type SqlMigrationAwareDriverAdapterFactory,
} from '@prisma/driver-adapter-utils';
import * as bindings from '@prisma/schema-engine-wasm/schema_engine_bg';
import pg from 'pg';
import { schemaFiles } from './files.ts';

export type SchemaEngine = bindings.SchemaEngine;

/**
 * Runs `use` with Prisma's schema engine, as WebAssembly, connected to a database. Prisma's own command line downloads
 * the same engine as a program; this one comes from the package registry.
 */
export async function withSchemaEngine<T>(databaseUrl: string, use: (engine: SchemaEngine) => Promise<T>): Promise<T> {
  await instantiate();
  // One connection: the engine keeps locks and settings on its session.
  const pool = new CatalogPool({ connectionString: databaseUrl, max: 1, connectionTimeoutMillis: 10_000 });
  pool.on('error', () => undefined);
  const options = { datamodels: (await schemaFiles()).map((file): [string, string] => [file.path, file.content]) };
  const adapter = bindMigrationAwareSqlAdapterFactory(corrected(new PrismaPg(pool)));
  const engine = await bindings.SchemaEngine.new(options, () => undefined, adapter);
  try {
    return await use(engine);
  } finally {
    engine.free();
    await pool.end();
  }
}

// The engine reads catalog columns of the one-byte type "char", which the adapter does not know: call it char(1).
class CatalogPool extends pg.Pool {
  constructor(config: pg.PoolConfig) {
    super(config);
    const query = this.query.bind(this) as (...args: unknown[]) => Promise<pg.QueryResult>;
    const renamed = async (...args: unknown[]) => {
      const result = await query(...args);
      for (const field of result.fields ?? []) if (field.dataTypeID === OID_CHAR) field.dataTypeID = OID_BPCHAR;
      return result;
    };
    this.query = renamed as typeof this.query;
  }
}

const OID_CHAR = 18;
const OID_BPCHAR = 1042;

function throwPanic(message: string): never {
  throw new Error(`Prisma's schema engine failed: ${message}`);
}

let instantiated: Promise<void> | undefined;

function instantiate(): Promise<void> {
  instantiated ??= (async () => {
    const require = createRequire(import.meta.url);
    const folder = dirname(require.resolve('@prisma/schema-engine-wasm/schema_engine_bg'));
    const code = await WebAssembly.compile(await readFile(join(folder, 'schema_engine_bg.wasm')));
    // The bindings are written for bundlers, which would do these three steps.
    const { exports } = await WebAssembly.instantiate(code, { './schema_engine_bg.js': bindings });
    // The engine tells its panics to this object; without it they show as an unrelated TypeError.
    Object.assign(globalThis, { PRISMA_WASM_PANIC_REGISTRY: { set_message: throwPanic } });
    bindings.__wbg_set_wasm(exports);
    exports.__wbindgen_start();
  })();
  return instantiated;
}

// Part of Node.js, but neither its types nor the ECMAScript ones have it.
declare const WebAssembly: {
  compile(bytes: Uint8Array): Promise<object>;
  instantiate(module: object, imports: Record<string, object>): Promise<{ exports: { __wbindgen_start(): void } }>;
};

// The adapter cuts scripts at every semicolon, also inside function bodies. PostgreSQL takes a script as a whole, and
// then in one transaction, so a migration that fails leaves nothing behind.
function corrected(factory: PrismaPg): SqlMigrationAwareDriverAdapterFactory {
  const wrap = async (connecting: ReturnType<PrismaPg['connect']>): Promise<SqlDriverAdapter> => {
    const adapter = await connecting;
    const queryRaw = adapter.queryRaw.bind(adapter);
    adapter.queryRaw = async (query) => {
      const result = await queryRaw(query);
      const kind = result.columnNames.indexOf('constraint_type');
      if (kind >= 0) result.columnTypes[kind] = ColumnTypeEnum.Character;
      return result;
    };
    adapter.executeScript = async (script) => {
      await adapter.underlyingDriver().query(script).catch(throwAsDriverError);
    };
    return adapter;
  };
  return {
    provider: factory.provider,
    adapterName: factory.adapterName,
    connect: () => wrap(factory.connect()),
    connectToShadowDb: () => wrap(factory.connectToShadowDb()),
  };
}

function throwAsDriverError(error: unknown): never {
  if (!(error instanceof pg.DatabaseError)) throw error;
  throw new DriverAdapterError({
    kind: 'postgres',
    code: error.code ?? 'N/A',
    severity: error.severity ?? 'N/A',
    message: error.message,
    detail: error.detail,
    column: error.column,
    hint: error.hint,
    originalCode: error.code,
    originalMessage: error.message,
  });
}
