import type { Deps } from '../src/deps.ts';
import { makeOrganizerToken } from '../src/features/access/bootstrap.ts';
import { describeDemo, runDemo, writeWalkEnvironment } from './demo.ts';

export interface DemoWithServer {
  deps: Deps;
  /** where this process listens */
  baseUrl: string;
  /** where people reach it */
  publicUrl: string;
  organizerToken: string | undefined;
}

/**
 * Sets the demo up in the server that is just starting, through its own API. A demo that fails says so and leaves the
 * server alone; the next one finishes what this one began. Where the organizer's token is not known any more (a later
 * start on the same data), one is made for this once and revoked at the end.
 *
 * @returns what there is to say of it, in lines
 */
export async function runDemoWithServer(input: DemoWithServer): Promise<string> {
  try {
    return await setUp(input);
  } catch (error) {
    input.deps.log.warn({ error }, 'the demo was not set up');
    const why = error instanceof Error ? error.message : String(error);
    return `\nThe demo is not complete: ${why}\nThe server goes on. Start it again with --demo to finish the demo.\n`;
  }
}

async function setUp({ deps, baseUrl, publicUrl, ...input }: DemoWithServer): Promise<string> {
  const made = input.organizerToken === undefined ? await makeOrganizerToken(deps.db.prisma, 'demo set-up') : undefined;
  const organizerToken = input.organizerToken ?? made?.token;
  if (organizerToken === undefined) throw new Error('the demo has no organizer token');
  try {
    const progress = (done: number, all: number) => deps.log.info({ done, all }, 'the demo is being set up');
    const summary = await runDemo({ baseUrl, organizerToken, progress });
    return describeDemo(summary, { publicUrl, walkFile: writeWalkEnvironment(summary, deps.config.dataDir) });
  } finally {
    if (made !== undefined)
      await deps.db.prisma.token.update({ where: { id: made.tokenId }, data: { revokedAt: new Date() } });
  }
}
