import { startEmbeddedPostgres } from '../../src/platform/database/embedded-postgres.ts';
import { createLogger } from '../../src/platform/logger.ts';

// A process that owns an embedded database until it is killed or told to stop; prints its address when ready.
const dataDir = process.argv[2] ?? '';
try {
  const database = await startEmbeddedPostgres({ dataDir, log: createLogger({ level: 'silent' }) });
  process.on('SIGTERM', () => void database.stop().then(() => process.exit(0)));
  setInterval(() => undefined, 60_000);
  process.stdout.write(`${JSON.stringify({ url: database.url, pid: database.pid })}\n`);
} catch (error) {
  process.stdout.write(`${JSON.stringify({ error: String(error) })}\n`);
  process.exit(1);
}
