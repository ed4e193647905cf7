import supertest from 'supertest';
import { buildApp } from '../../src/app.ts';
import type { Role } from '../../src/domain/actor.ts';
import { openDeps } from '../../src/deps.ts';
import { startTestApp, type TestApp, type TestToken } from '../support/app.ts';
import { type LogLine, logLines } from '../support/log.ts';

/** A test application whose whole log can be read, at the level where it says most. */
export async function startLoggedApp(): Promise<{ t: TestApp; lines: LogLine[] }> {
  const silent = await startTestApp({ own: true });
  const { log, lines } = logLines('trace');
  const deps = {
    ...openDeps(silent.deps.config, silent.databaseUrl, log),
    clock: silent.clock,
    threads: silent.deps.threads,
  };
  const app = await buildApp(deps);
  await app.listen({ port: 0, host: '127.0.0.1' });
  const staff = Object.fromEntries(
    await Promise.all(
      (['organizer', 'chief', 'inspector', 'marshal'] as const).map(async (role) => [role, await silent.mint(role)]),
    ),
  ) as Record<Exclude<Role, 'entrant'>, TestToken>;
  const api: TestApp['api'] = (as) => {
    const token = typeof as === 'string' ? staff[as] : as;
    const client = supertest.agent(app.server);
    return token === undefined ? client : client.set('authorization', `Bearer ${token.token}`);
  };
  const close = async () => {
    await app.close();
    await deps.db.close();
    await silent.close();
  };
  return { t: { ...silent, app, deps, api, close }, lines };
}
