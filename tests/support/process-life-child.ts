import { createLogger } from '../../src/platform/logger.ts';
import { openProcessLife } from '../../src/platform/process-life.ts';

// A process with three steps to its stop; the first argument says what goes wrong. Writes what happens, one line each.
const mode = process.argv[2] ?? 'well';
const say = (what: string) => process.stdout.write(`${JSON.stringify({ did: what })}\n`);
const life = openProcessLife({ log: createLogger({ level: 'silent' }), shutdownSeconds: mode === 'hangs' ? 1 : 20 });

life.onStop('database', async () => say('database'));
life.onStop('queue', async () => {
  say('queue');
  if (mode === 'throws') throw new Error('queue');
});
life.onStop('server', async () => {
  say('server');
  if (mode === 'hangs' || mode === 'stuck') await new Promise(() => undefined);
});
setInterval(() => undefined, 60_000);
say('ready');
if (mode === 'uncaught') void Promise.reject(new Error('nobody caught this'));
if (mode === 'fail') life.fail(new Error('cannot start'));
if (mode === 'stop') life.stop();
