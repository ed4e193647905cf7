import type { AddressInfo } from 'node:net';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll } from 'vitest';
import { buildApp } from '../../../src/app.ts';
import { startJobs } from '../../../src/worker.ts';
import { type DemoSummary, runDemo } from '../../../seed/demo.ts';
import { startTestApp, type TestApp } from '../../support/app.ts';
import { tickingClock } from '../../support/clock.ts';
import { createTestDatabase } from '../../support/postgres.ts';
import { leaveBrowser, startBrowser } from './browser.ts';

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

/** The demo ages: claims on its line run out. Older than this it is made anew. */
const DEMO_KEEPS_MS = 300_000;
let made: { at: number; name: Promise<string> } | undefined;

/** Name of a database with the demo event in it, played once for several files of a worker: it takes some seconds. */
async function demoDatabase(): Promise<string> {
  if (made === undefined || performance.now() - made.at > DEMO_KEEPS_MS) {
    made = { at: performance.now(), name: playDemo() };
    made.name.catch(() => {
      made = undefined;
    });
  }
  return made.name;
}

async function playDemo(): Promise<string> {
  const database = await createTestDatabase();
  const t = await startTestApp({ clock: tickingClock(), database: { ...database, drop: async () => undefined } });
  try {
    const { port } = t.app.server.address() as AddressInfo;
    const organizer = await t.mint('organizer', { holder: 'Office desk' });
    const baseUrl = `http://127.0.0.1:${port}`;
    await runDemo({ baseUrl, organizerToken: organizer.token });
  } finally {
    await t.close();
  }
  return database.name;
}

/** Starts it on this machine's clock; `withJobs` runs the worker beside it. */
export async function startSite({ withJobs = false } = {}): Promise<Site> {
  const database = await createTestDatabase({ cloneOf: await demoDatabase() });
  const t = await startTestApp({ clock: tickingClock(), database });
  const { port } = t.app.server.address() as AddressInfo;
  const url = `http://127.0.0.1:${port}`;
  const jobs = withJobs ? startJobs(t.deps, t.databaseUrl) : undefined;
  const organizer = await t.mint('organizer', { holder: 'Office desk' });
  // Finds what is there and mints new tokens.
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

/** What the tests between `useSite` and its end work with: the site of this file, and the browser of this worker. */
export let site: Site;
export let browser: Browser;

/** Gives the tests of a `describe` a site with the demo in it and a browser; both are there once its first hook has run. */
export function useSite(options: Parameters<typeof startSite>[0] = {}): void {
  beforeAll(async () => {
    [site, browser] = await Promise.all([startSite(options), startBrowser()]);
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await site.close();
  });
}
