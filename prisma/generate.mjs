import { spawnSync } from 'node:child_process';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

// Writes src/platform/prisma-client from schema.prisma. Plain JavaScript: it runs before anything is compiled.
const require = createRequire(import.meta.url);
const here = dirname(fileURLToPath(import.meta.url));
const manifest = require.resolve('prisma/package.json');
const cli = join(dirname(manifest), require(manifest).bin.prisma);

const result = spawnSync(process.execPath, [cli, 'generate', '--schema', join(here, 'schema.prisma'), '--no-hints'], {
  cwd: dirname(here),
  stdio: ['ignore', 'pipe', 'pipe'],
  encoding: 'utf8',
  env: {
    ...process.env,
    // `generate` never runs the schema engine but insists on finding one: any executable stops the download.
    PRISMA_SCHEMA_ENGINE_BINARY: process.execPath,
    PRISMA_HIDE_UPDATE_MESSAGE: '1',
    CHECKPOINT_DISABLE: '1',
  },
});

if (result.status !== 0) {
  process.stderr.write(`${result.stdout ?? ''}${result.stderr ?? ''}${result.error?.message ?? ''}\n`);
  process.exit(result.status ?? 1);
}
