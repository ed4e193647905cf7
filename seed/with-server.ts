import type { Deps } from '../src/deps.ts';
import { makeOrganizerToken } from '../src/features/tokens/bootstrap.ts';
import { runDemo, writeWalkEnvironment } from './demo.ts';

export interface DemoWithServer {
  deps: Deps;
  /** where this process listens */
  baseUrl: string;
  /** where people reach it */
  publicUrl: string;
  organizerToken: string | undefined;
  print?(text: string): void;
}

/**
 * Sets the demo up in the server that is just starting, through its own API. A demo that fails says so and leaves the
 * server alone; the next one finishes what this one began. Where the organizer's token is not known any more (a later
 * start on the same data), one is made for this once and revoked at the end.
 */
export async function runDemoWithServer(input: DemoWithServer): Promise<void> {
  const print = input.print ?? ((text: string) => process.stdout.write(`${text}\n`));
  try {
    await setUp(input, print);
  } catch (error) {
    input.deps.log.warn({ error }, 'the demo was not set up');
    const why = error instanceof Error ? error.message : String(error);
    print(`\nThe demo is not complete: ${why}\nThe server goes on. Start it again with --demo to finish the demo.\n`);
  }
}

async function setUp({ deps, baseUrl, publicUrl, ...input }: DemoWithServer, print: (text: string) => void) {
  const made = input.organizerToken === undefined ? await makeOrganizerToken(deps.db.prisma, 'demo set-up') : undefined;
  const organizerToken = input.organizerToken ?? made?.token;
  if (organizerToken === undefined) throw new Error('the demo has no organizer token');
  try {
    const summary = await runDemo({ baseUrl, publicUrl, organizerToken, print });
    const path = writeWalkEnvironment(summary, deps.config.dataDir);
    print(`The variables are also in ${path}: read them into a shell with\n  . ${path}\n`);
  } finally {
    if (made !== undefined)
      await deps.db.prisma.token.update({ where: { id: made.tokenId }, data: { revokedAt: new Date() } });
  }
}
