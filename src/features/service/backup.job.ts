import { z } from 'zod';
import { makeBackup } from '../../backup/kept-backups.ts';
import type { Deps } from '../../deps.ts';
import { defineJob } from '../../platform/queue/job.ts';

export const BACKUP_MAKE = 'backup.make';
/** A backup may be large, and is brought back once; one that takes longer hangs. */
const TIMEOUT_MS = 2 * 3_600_000;

/** Makes a backup because somebody asked for one. Run twice it makes two: a place that is away for a moment is tried once more. */
export const backupMakeJob = defineJob<Deps, Record<string, never>>({
  name: BACKUP_MAKE,
  payload: z.strictObject({}),
  attempts: 2,
  backoffMs: 60_000,
  async handle(_deps, _payload, { log }) {
    const { code, said, ms } = await makeBackup({ ifDue: false, signal: AbortSignal.timeout(TIMEOUT_MS) });
    if (code !== 0) throw new Error(`the backup is not what it should be: ${said.trim()}`);
    log.info({ ms }, 'backup made');
  },
});
