import { z } from 'zod';
import { makeBackup } from '../../backup/schedule.ts';
import type { Deps } from '../../deps.ts';
import { defineJob } from '../../platform/queue/job.ts';

export const BACKUP_MAKE = 'backup.make';
/** A backup may be large, and is brought back once; one that takes longer hangs. */
const TIMEOUT_MS = 2 * 3_600_000;

/** Makes a backup because somebody asked for one. Run twice it makes two. Once is enough: what was wrong is shown. */
export const backupMakeJob = defineJob<Deps, Record<string, never>>({
  name: BACKUP_MAKE,
  payload: z.strictObject({}),
  attempts: 1,
  backoffMs: 1000,
  async handle(_deps, _payload, { log }) {
    const { code, said, ms } = await makeBackup({ ifDue: false, signal: AbortSignal.timeout(TIMEOUT_MS) });
    if (code !== 0) throw new Error(`the backup is not what it should be: ${said.trim()}`);
    log.info({ ms }, 'backup made');
  },
});
