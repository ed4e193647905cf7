import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import sharp from 'sharp';
import { afterAll, beforeAll, test } from 'vitest';
import { apiClient, textOf } from '../../seed/demo/api-client.ts';
import { DESKTOP, openDevice, PHONE, startBrowser } from './support/browser.ts';
import { askByKeyboard, openGateDevice, untilReady } from './support/gate.ts';
import { takeCar } from './support/line.ts';
import { type Site, startSite } from './support/site.ts';

/** All of them, to be looked at. */
const ALL = 'dist/screenshots';
/** Those of the README. */
const SHOWN: ReadonlySet<string> = new Set([
  'garage-verdict-phone',
  'line-car-phone',
  'gate-go-phone',
  'office-overview-desktop',
]);
const SHOWN_FOLDER = 'seed/screenshots';
const SIZES = { phone: PHONE, desktop: DESKTOP } as const;
/** A page that goes on for screens is cut: a picture in a README is looked at, not read. */
const SHOWN_HEIGHT = 1400;

let site: Site;
let browser: Browser;

beforeAll(async () => {
  for (const folder of [ALL, SHOWN_FOLDER]) mkdirSync(folder, { recursive: true });
  [site, browser] = await Promise.all([startSite({ withJobs: true }), startBrowser()]);
});
afterAll(async () => {
  await browser.close();
  await site.close();
});

async function shoot(page: Page, name: string): Promise<void> {
  const picture = await page.screenshot({ path: join(ALL, `${name}.png`), fullPage: true });
  process.stdout.write(`${join(ALL, `${name}.png`)}\n`);
  if (!SHOWN.has(name)) return;
  const { width, height } = await sharp(picture).metadata();
  await sharp(picture)
    .extract({ left: 0, top: 0, width, height: Math.min(height, SHOWN_HEIGHT) })
    .png({ palette: true, effort: 10 })
    .toFile(join(SHOWN_FOLDER, `${name}.png`));
}

/** Opens an address as a new device of each size, with the display in both themes. */
async function onEach(run: (device: BrowserContext, name: (shot: string) => string) => Promise<void>): Promise<void> {
  for (const [size, viewport] of Object.entries(SIZES)) {
    for (const theme of ['light', 'dark'] as const) {
      const device = await openDevice(browser, { url: site.url, viewport, theme });
      await run(device, (shot) => `${shot}-${size}${theme === 'dark' ? '-dark' : ''}`);
      await device.close();
    }
  }
}

test('garage', async () => {
  const body = { role: 'entrant', holder: 'Shop desk', entryId: site.demo.barredEntryId };
  const barred = textOf(
    await apiClient(site.url)('POST', '/v1/tokens', { token: site.demo.tokens.organizer, body }),
    'token',
  );
  await onEach(async (device, name) => {
    const page = await device.newPage();
    await page.goto(`/garage#${site.demo.tokens.entrant}`);
    await page.getByRole('button', { name: /Papers and gear/ }).waitFor();
    await shoot(page, name('garage-walk'));
    await page.locator('.by-area > summary').click();
    await page.getByRole('button', { name: /Pads, linings, rotors and drums/ }).click();
    await page.getByLabel('Front left, Inner pad, mm').waitFor();
    await shoot(page, name('garage-brakes'));
    const other = await device.newPage();
    await other.goto(`/garage#${barred}`);
    await other.getByRole('button', { name: /See what came of submission/ }).click();
    await other.getByText('Fit new pads on both wheels').first().waitFor();
    await shoot(other, name('garage-verdict'));
    await other.goto('/garage?screen=pads');
    await other.locator('.brief-more summary').first().click();
    await other.locator('.picture').first().waitFor();
    await shoot(other, name('garage-question'));
    await other.goto('/garage?session');
    await other.locator('#session').waitFor();
    await shoot(other, name('garage-session'));
    await other.goto('/garage?countdown');
    await other.locator('#pack').waitFor();
    await shoot(other, name('garage-countdown'));
  });
});

test('line', async () => {
  await onEach(async (device, name) => {
    const page = await device.newPage();
    await page.goto(`/line#${site.demo.tokens.inspector}`);
    await page.getByText('· live').waitFor();
    await shoot(page, name('line-list'));
    await takeCar(page, '62');
    await page.getByText('Look here first').waitFor();
    await shoot(page, name('line-car'));
    await page.getByRole('button', { name: 'Put back' }).click();
    await page.getByLabel('Car number').waitFor();
  });
});

test('gate', async () => {
  for (const [size, viewport] of Object.entries(SIZES)) {
    const { device, page } = await openGateDevice(browser, site, { viewport });
    await untilReady(page);
    await shoot(page, `gate-pad-${size}`);
    for (const [shot, number] of Object.entries({
      go: '14',
      conditions: '16',
      stop: '61',
      shared: '33',
      unknown: '71',
    })) {
      await askByKeyboard(page, number);
      await shoot(page, `gate-${shot}-${size}`);
    }
    await page.clock.install();
    await device.setOffline(true);
    await page.clock.setSystemTime(Date.now() + 3_600_000);
    await askByKeyboard(page, '14');
    await shoot(page, `gate-cannot-tell-${size}`);
    await device.close();
  }
});

test('office and enrolment', async () => {
  await onEach(async (device, name) => {
    const page = await device.newPage();
    await page.goto(`/office#${site.demo.tokens.organizer}`);
    await page.locator('nav.sections').waitFor();
    for (const section of ['overview', 'entries', 'import', 'access', 'rules', 'event']) {
      await page.goto(`/office?section=${section}`);
      await page.locator('nav.sections').waitFor();
      await page.locator('main h2').first().waitFor();
      await page.getByText('Loading').first().waitFor({ state: 'hidden' });
      await shoot(page, name(`office-${section}`));
    }
    await page.goto('/enrol#an-example-of-a-code-x');
    await page.locator('h1').waitFor();
    await shoot(page, name('enrol'));
  });
});
