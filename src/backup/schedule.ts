import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { setPriority } from 'node:os';
import { fileURLToPath } from 'node:url';
import type { BackupPlan } from '../config.ts';
import type { Database } from '../platform/database/db.ts';
import type { Logger } from '../platform/logger.ts';
import type { Chore } from '../platform/queue/job.ts';
import { isDue } from './backups-store.ts';

const PROGRAM = fileURLToPath(new URL('./backup-cli.js', import.meta.url));
/** Nice value: whoever is at the gate goes first. */
const NICE = 10;
const LAST_WORDS = 2000;

/**
 * The chore that makes a backup when one is due, in a process of its own: reading and packing everything would hold up
 * whoever asks this one.
 *
 * @param program the compiled command; tests have another
 */
export function keepBackups(plan: BackupPlan, { db, log }: { db: Database; log: Logger }, program = PROGRAM): Chore {
  return async (signal) => {
    if (plan.everyHours === 0 || !(await isDue(db.pool, plan.everyHours))) return;
    const { code, said, ms } = await makeBackup({ ifDue: true, signal, program });
    if (signal.aborted) return;
    if (code === 0) log.info({ ms }, 'backup made');
    // Somebody must act: what the process printed says at what.
    else log.error({ ms, code, said }, 'the backup is not what it should be');
  };
}

interface How {
  /** only when the last is old enough */
  ifDue: boolean;
  /** ends it */
  signal: AbortSignal;
  program?: string;
}

/** Makes a backup in a process of its own: how that ended (0 is well), its last words, and how long it took. */
export async function makeBackup({ ifDue, signal, program = PROGRAM }: How) {
  const startedAt = performance.now();
  const child = spawn(process.execPath, [program, ...(ifDue ? ['--if-due'] : [])], {
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let said = '';
  for (const stream of [child.stdout, child.stderr])
    stream.on('data', (chunk: Buffer) => {
      said = `${said}${chunk.toString()}`.slice(-LAST_WORDS);
    });
  const stop = () => void child.kill('SIGTERM');
  signal.addEventListener('abort', stop);
  try {
    if (child.pid !== undefined) setPriority(child.pid, NICE);
    await once(child, 'close');
    return { code: child.exitCode, said, ms: Math.round(performance.now() - startedAt) };
  } finally {
    signal.removeEventListener('abort', stop);
  }
}
