import { describeDemo, runDemo, writeWalkEnvironment } from './demo.ts';

/**
 * `npm run demo`: with `ORGANIZER_TOKEN` set, fills the running server at `GRIDWORTHY_URL`; without it, starts a
 * server of its own with the demo in it.
 */
async function main(): Promise<void> {
  const { GRIDWORTHY_URL: baseUrl = 'http://127.0.0.1:8080', ORGANIZER_TOKEN: organizerToken, DATA_DIR } = process.env;
  if (organizerToken === undefined || organizerToken === '') {
    process.argv.push('--demo');
    await import('../src/server.ts');
    return;
  }
  const progress = (done: number, all: number) => process.stderr.write(`${done} of ${all} entries\n`);
  const summary = await runDemo({ baseUrl, organizerToken, progress });
  const walkFile = writeWalkEnvironment(summary, DATA_DIR ?? '.data');
  process.stdout.write(`${describeDemo(summary, { publicUrl: baseUrl, walkFile })}\n`);
}

await main().catch((error: unknown) => {
  process.stderr.write(`The demo failed: ${error instanceof Error ? error.message : String(error)}\n`);
  process.exitCode = 1;
});
