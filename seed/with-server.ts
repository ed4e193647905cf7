import type { Deps } from '../src/deps.ts';
import { makeOrganizerToken } from '../src/features/tokens/bootstrap.ts';
import { runDemo, writeWalkEnvironment } from './demo.ts';

/**
 * Sets the demo up in the server that is just starting, through its own API. Where the organizer's token is not known
 * any more (a later start on the same data), one is made for this once and revoked at the end.
 */
export async function runDemoWithServer(input: {
  deps: Deps;
  baseUrl: string;
  organizerToken: string | undefined;
}): Promise<void> {
  const { deps, baseUrl } = input;
  const made = input.organizerToken === undefined ? await makeOrganizerToken(deps.db.prisma, 'demo set-up') : undefined;
  const organizerToken = input.organizerToken ?? made?.token;
  if (organizerToken === undefined) throw new Error('the demo has no organizer token');
  const print = (text: string) => process.stdout.write(`${text}\n`);
  try {
    const summary = await runDemo({ baseUrl, organizerToken, print });
    const path = writeWalkEnvironment(summary, deps.config.dataDir);
    print(`The variables are also in ${path}: read them into a shell with\n  . ${path}\n`);
  } finally {
    if (made !== undefined)
      await deps.db.prisma.token.update({ where: { id: made.tokenId }, data: { revokedAt: new Date() } });
  }
}
