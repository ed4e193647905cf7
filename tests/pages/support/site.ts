import type { AddressInfo } from 'node:net';
import { inject } from 'vitest';
import { buildApp } from '../../../src/app.ts';
import { startJobs } from '../../../src/worker.ts';
import { type DemoSummary, runDemo } from '../../../seed/demo.ts';
import { startTestApp, type TestApp } from '../../support/app.ts';
import { tickingClock } from '../../support/clock.ts';

/** The whole service with the demo event in it, for a browser. */
export interface Site {
  t: TestApp;
  /** `http://127.0.0.1:<port>`, the same over `kill` and `revive` */
  url: string;
  demo: DemoSummary;
  /** ends the HTTP server at once, as a crash does: connections break, the data stays */
  kill(): Promise<void>;
  /** answers again at the same address */
  revive(): Promise<void>;
  close(): Promise<void>;
}

/** Starts it on this machine's clock; `withJobs` runs the worker beside it. The demo takes some seconds. */
export async function startSite({ withJobs = false } = {}): Promise<Site> {
  const t = await startTestApp({ clock: tickingClock(), config: { webDir: inject('webDir') } });
  const { port } = t.app.server.address() as AddressInfo;
  const url = `http://127.0.0.1:${port}`;
  const jobs = withJobs ? startJobs(t.deps, t.databaseUrl) : undefined;
  const organizer = await t.mint('organizer', { holder: 'Office desk' });
  const demo = await runDemo({ baseUrl: url, organizerToken: organizer.token });
  let running = t.app;
  return {
    t,
    url,
    demo,
    kill: async () => {
      running.server.closeAllConnections();
      await running.close();
    },
    revive: async () => {
      running = await buildApp(t.deps);
      await running.listen({ port, host: '127.0.0.1' });
    },
    close: async () => {
      await jobs?.stop();
      if (running !== t.app) await running.close();
      await t.close();
    },
  };
}
