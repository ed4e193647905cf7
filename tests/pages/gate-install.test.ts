import { cp, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import type { Browser, Page } from 'playwright-core';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, inject, test } from 'vitest';
import { buildApp } from '../../src/app.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { tickingClock } from '../support/clock.ts';
import { createTestEvent } from '../support/event.ts';
import { hasChromium, openDevice, leaveBrowser, startBrowser } from './support/browser.ts';
import { contactIs } from './support/gate.ts';

const NEXT = '0ddba11e';

describe.skipIf(!hasChromium())('the installed gate', () => {
  let t: TestApp;
  let browser: Browser;
  let webDir: string;
  let url: string;
  let running: FastifyInstance;
  beforeAll(async () => {
    // A copy of its own, because this test publishes another version of the pages.
    webDir = await mkdtemp(join(tmpdir(), 'gridworthy-web-'));
    await cp(inject('webDir'), webDir, { recursive: true });
    [t, browser] = await Promise.all([startTestApp({ clock: tickingClock(), config: { webDir } }), startBrowser()]);
    running = t.app;
    url = `http://127.0.0.1:${(t.app.server.address() as AddressInfo).port}`;
    await createTestEvent(t);
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    if (running !== t.app) await running.close();
    await t.close();
    await rm(webDir, { recursive: true, force: true });
  });

  async function publishNextVersion(version: string): Promise<void> {
    for (const name of ['worker.js', 'gate/index.html']) {
      const text = await readFile(join(webDir, name), 'utf8');
      expect(text).toContain(version);
      await writeFile(join(webDir, name), text.replaceAll(version, NEXT));
      for (const packed of ['.br', '.gz']) await rm(join(webDir, name + packed), { force: true });
    }
    const { port } = running.server.address() as AddressInfo;
    running.server.closeAllConnections();
    await running.close();
    running = await buildApp(t.deps);
    await running.listen({ port, host: '127.0.0.1' });
  }

  const versionOf = (page: Page) => page.locator('[data-version]').getAttribute('data-version');

  test('can be installed: a manifest with icons of the sizes it says', async () => {
    const device = await openDevice(browser, { url });
    const page = await device.newPage();
    await page.goto('/gate');
    const href = await page.locator('link[rel=manifest]').getAttribute('href');
    const answer = await page.request.get(href ?? '');
    expect(answer.headers()['content-type']).toContain('application/manifest+json');
    const manifest = await answer.json();
    expect(manifest).toMatchObject({ start_url: '/gate', scope: '/gate', display: 'standalone' });
    for (const { src, sizes, type } of manifest.icons as { src: string; sizes: string; type: string }[]) {
      const icon = await page.request.get(src);
      expect(icon.status(), src).toBe(200);
      if (type !== 'image/png') continue;
      const { width, height, format } = await sharp(await icon.body()).metadata();
      expect({ size: `${width}x${height}`, format }).toEqual({ size: sizes, format: 'png' });
    }
    // What Chromium itself has against installing it.
    const client = await device.newCDPSession(page);
    const { installabilityErrors } = await client.send('Page.getInstallabilityErrors');
    // A browser without a profile of its own installs nothing; that is all it may say.
    expect(installabilityErrors.map(({ errorId }) => errorId).filter((id) => id !== 'in-incognito')).toEqual([]);
    await device.close();
  });

  test('keeps its version while it is open, says that a newer one waits, and starts that the next time', async () => {
    const marshal = await t.mint('marshal');
    const device = await openDevice(browser, { url });
    const page = await device.newPage();
    await page.goto(`/gate#${marshal.token}`);
    // The event is on another day, so the page asks.
    await page.getByRole('button', { name: /\(2026/ }).click();
    await contactIs(page, 'online');
    await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
    const version = (await versionOf(page)) ?? '';
    expect(version).toMatch(/^[0-9a-f]{8}$/);
    await publishNextVersion(version);

    await page.reload();
    await page.getByRole('button', { name: /\(2026/ }).click();
    await page.getByText('A newer version is ready.').waitFor();
    expect(await versionOf(page)).toBe(version);
    await page.close();
    const next = await device.newPage();
    await expect
      .poll(
        async () => {
          await next.goto('/gate');
          await next.getByRole('button', { name: /\(2026/ }).click();
          return versionOf(next);
        },
        { timeout: 20_000 },
      )
      .toBe(NEXT);
    const kept = await next.evaluate(() => caches.keys());
    expect(kept).toEqual([`shell-gate-${NEXT}`]);
    await device.close();
  });
});
