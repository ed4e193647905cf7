import { withDatabase } from './backup/database.ts';
import { makeOrganizerToken } from './features/access/bootstrap.ts';
import { openDatabase } from './platform/database/db.ts';

// `npm run token -- organizer [holder]`: makes one more organizer token and prints it, also while the server works. For
// whoever has lost all of them; those from before go on working until they are revoked. 0 when made, 2 when not.
const [role, holder = 'made on the machine'] = process.argv.slice(2);

async function main(): Promise<void> {
  if (role !== 'organizer' || holder.length > 80) {
    throw new Error('say whose: npm run token -- organizer [holder of at most 80 characters]');
  }
  await withDatabase({ running: true }, async ({ databaseUrl, log }) => {
    const db = openDatabase({ url: databaseUrl, poolSize: 1, log });
    try {
      const { token } = await makeOrganizerToken(db.prisma, holder);
      process.stdout.write(`Organizer token for ${holder} (shown once, keep it): ${token}\n`);
    } finally {
      await db.close();
    }
  });
}

await main().catch((error: unknown) => {
  const missing = error instanceof Error && 'code' in error && error.code === 'P2021';
  const says = error instanceof Error ? error.message : String(error);
  process.stderr.write(`no token: ${missing ? 'the server was never started on this database' : says}\n`);
  process.exitCode = 2;
});
