import { ConfigError, loadConfig } from './config.ts';
import { listEvents } from './features/history/store.ts';
import { auditEvent, type EventAudit } from './features/history/verify.ts';
import { openDatabase } from './platform/database/db.ts';
import { startEmbeddedPostgres } from './platform/database/embedded-postgres.ts';
import { createLogger } from './platform/logger.ts';

// `npm run audit:verify [-- eventId [seq hash]]`: 0 when everything fits, 1 when something does not, 2 when it cannot
// be told. With the embedded database the server must be stopped; on a running one ask GET /v1/events/{eventId}/audit.
const [eventId, seq, hash] = process.argv.slice(2);
const log = createLogger({ level: 'error' });

function told(name: string, audit: EventAudit): string {
  const { head, rows, sealed, unsealed, entries, faults } = audit;
  const lines = faults.map(
    ({ kind, carNumber, detail }) => `  ${kind}${carNumber ? ` car ${carNumber}` : ''}: ${detail}`,
  );
  const signed = audit.signedHead === null ? 'no head signed yet' : `signed up to ${audit.signedHead.size}`;
  const verdict = audit.intact ? 'intact' : `${faults.length} faults`;
  return [
    `${audit.eventId} ${name}: ${verdict}; ${rows} rows, ${entries} entries; head ${head.seq} ${head.hash}`,
    `  sealed up to ${sealed}, ${unsealed} rows after it; ${signed}`,
    ...lines,
  ].join('\n');
}

async function verifyAll(url: string): Promise<boolean> {
  const db = openDatabase({ url, poolSize: 2, log });
  try {
    const events = await listEvents(db.prisma, eventId);
    if (events.length === 0)
      throw new Error(eventId === undefined ? 'there is no event' : `there is no event ${eventId}`);
    const noted = seq === undefined || hash === undefined ? undefined : { seq: Number(seq), hash };
    let faults = 0;
    for (const event of events) {
      const audit = await auditEvent(db.prisma, event.eventId, noted);
      faults += audit.faults.length;
      process.stdout.write(`${told(event.name, audit)}\n`);
    }
    process.stdout.write(`${events.length} events, ${faults} faults\n`);
    return faults === 0;
  } finally {
    await db.close();
  }
}

async function main(): Promise<void> {
  const config = loadConfig(process.env);
  if (config.databaseUrl !== undefined) {
    process.exitCode = (await verifyAll(config.databaseUrl)) ? 0 : 1;
    return;
  }
  const embedded = await startEmbeddedPostgres({ dataDir: config.dataDir, log });
  try {
    process.exitCode = (await verifyAll(embedded.url)) ? 0 : 1;
  } finally {
    await embedded.stop();
  }
}

await main().catch((error: unknown) => {
  const says = error instanceof ConfigError || error instanceof Error ? error.message : String(error);
  process.stderr.write(`cannot verify: ${says}\n`);
  process.exitCode = 2;
});
