import { becomesWell, stopAndStart, type System, withDatabase } from './system.ts';
import { pause } from './request.ts';

/**
 * Lets the system come to rest: everything that was due must get done, however lost its job is.
 *
 * A queue that forgot a job is told again ten minutes later by the keeper, which looks once a minute. Nobody waits that
 * long here: the rows are made eleven minutes older instead, and the workers are started anew, because the keeper looks
 * at its start. Nothing else is changed.
 *
 * @param options `forMs` how long it may take; `forgetful` whether anything can have been forgotten
 * @returns the instant at which the work ended (by the database clock), and what did not stop or start as it should
 */
export async function settle(
  system: System,
  { forMs, forgetful }: { forMs: number; forgetful: boolean },
): Promise<{ workEnded: string; complaints: string[] }> {
  const complaints: string[] = [];
  if (!(await becomesWell(system, 30_000))) complaints.push('not well after the last round');
  const url = await system.databaseUrl();
  const workEnded = await withDatabase(url, async (client) => {
    const { rows } = await client.query<{ now: string }>('SELECT now()::text AS now');
    return rows[0]?.now ?? '';
  });
  if (forgetful) complaints.push(...(await remind(system, workEnded)));
  await withDatabase(await system.databaseUrl(), async (client) => {
    const deadline = performance.now() + forMs;
    for (;;) {
      const { rows } = await client.query<{ left: string }>(
        `SELECT (SELECT count(*) FROM outbox WHERE done_at IS NULL AND (run_at IS NULL OR run_at <= $1))
           + (SELECT count(*) FROM unsealed_history) AS left`,
        [workEnded],
      );
      if (Number(rows[0]?.left) === 0 || performance.now() > deadline) return;
      await pause(100);
    }
  });
  return { workEnded, complaints };
}

async function remind(system: System, workEnded: string): Promise<string[]> {
  const complaints: string[] = [];
  await withDatabase(await system.databaseUrl(), (client) =>
    client.query(
      `UPDATE outbox SET published_at = published_at - interval '11 minutes', run_at = run_at - interval '11 minutes'
        WHERE done_at IS NULL AND (run_at IS NULL OR run_at <= $1)`,
      [workEnded],
    ),
  );
  for (const member of system.members) {
    if (!member.name.startsWith('api')) complaints.push(...[await stopAndStart(member)].flatMap((text) => text ?? []));
  }
  if (!(await becomesWell(system, 30_000))) complaints.push('not well after a restart of the workers');
  return complaints;
}
