import { mkdirSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import {
  DESKTOP,
  expectAccessibleInBoth,
  expectReflow,
  expectTargets,
  hasChromium,
  leaveBrowser,
  openDevice,
  SMALLEST,
  startBrowser,
  watchPage,
} from './support/browser.ts';
import { type Site, startSite } from './support/site.ts';

const SHOTS = 'dist/screenshots';

describe.skipIf(!hasChromium())('the workshop page', () => {
  let site: Site;
  let browser: Browser;
  beforeAll(async () => {
    mkdirSync(SHOTS, { recursive: true });
    [site, browser] = await Promise.all([startSite(), startBrowser()]);
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await site.close();
  });

  const shoot = (page: Page, name: string) => page.screenshot({ path: `${SHOTS}/${name}.png`, fullPage: true });
  const entrantOf = (entryId: string) => site.t.mint('entrant', { holder: 'Petra Osgood', entryId });

  test('is reached from a finding, knows the car, works it out, compares, keeps and shares it until the link ends', async () => {
    const { barredEntryId: entryId } = site.demo;
    const entrant = await entrantOf(entryId);
    const phone = await openDevice(browser, { url: site.url, viewport: SMALLEST });
    const page = await phone.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage#${entrant.token}`);
    await page.locator('main').waitFor();
    await page.goto('/workshop?from=garage');
    await page.getByRole('heading', { name: 'Brakes' }).waitFor();
    await expectAccessibleInBoth(page, 'all computations');
    await expectReflow(page);
    await expectTargets(page, 44);
    await shoot(page, 'workshop-list-phone');

    await page.getByRole('button', { name: 'Last safe session' }).click();
    await page.getByText('What is known of the car').waitFor();
    await page.getByRole('button', { name: 'Work it out' }).click();
    // the limit is the organizer's: nobody assumes it
    await page.getByText('are marked').waitFor();
    const marked = page.locator('[aria-invalid=true]');
    expect(await marked.count()).toBeGreaterThan(0);
    await expectAccessibleInBoth(page, 'places that cannot be read');
    for (const limit of await page.getByLabel('Less than this must never be left').all()) await limit.fill('1/8"');
    await page.getByRole('button', { name: 'Work it out' }).click();
    await page.locator('.chart').first().waitFor();
    await page.getByText('1 step').or(page.getByText('steps')).first().click();
    await expectAccessibleInBoth(page, 'a result with plots');
    await expectReflow(page);
    await shoot(page, 'workshop-safe-phone');

    await page.getByLabel('What is otherwise').selectOption({ label: 'Sessions of the event that are still to come' });
    await page.getByLabel('The other value').fill('30');
    await page.getByRole('button', { name: 'Compare' }).click();
    await page.locator('#what-if ~ div table').waitFor();

    await page.getByRole('button', { name: 'Keep with the car' }).click();
    await page.getByText('Kept with the car.').waitFor();
    await page.getByRole('button', { name: 'Make a link' }).click();
    const url = (await page.locator('.made-link a').getAttribute('href')) ?? '';
    await expectReflow(page);

    const guest = await openDevice(browser, { url: site.url, viewport: DESKTOP, language: 'de', theme: 'dark' });
    const seen = await guest.newPage();
    await seen.goto(url);
    await seen.getByText('Jemand zeigt diese Rechnung').waitFor();
    await seen.locator('.chart').first().waitFor();
    await expectAccessibleInBoth(seen, 'what a link shows');
    expect(await seen.getByRole('button', { name: 'Rechnen' }).count()).toBe(0);
    await shoot(seen, 'workshop-shared-dark');

    await page.getByRole('button', { name: 'End the link' }).click();
    await expect.poll(() => page.getByRole('button', { name: 'End the link' }).count()).toBe(0);
    await seen.reload();
    await seen.getByText('Dieser Link geht nicht mehr').waitFor();

    await page.goto('/car?entry');
    await page.locator('summary', { hasText: 'Work it out' }).click();
    await page.getByRole('link', { name: 'Last safe session' }).click();
    await page.locator('.chart').first().waitFor();
    expect(faults).toEqual([]);
  });

  test('is read in German with a comma, in the units of the device, and says what the server refuses', async () => {
    const entrant = await entrantOf(site.demo.walkEntryId);
    const laptop = await openDevice(browser, { url: site.url, viewport: DESKTOP, language: 'de' });
    const page = await laptop.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage#${entrant.token}`);
    await page.locator('main').waitFor();
    await page.goto('/workshop?from=garage&do=brake-margin');
    await page.getByRole('button', { name: 'Beispiel einsetzen' }).click();
    await page.getByRole('button', { name: 'Rechnen' }).click();
    await page.locator('.chart').first().waitFor();
    await page
      .getByLabel('Was anders ist')
      .selectOption({ label: 'Die Bremsflüssigkeit im Auto · Nasssiedepunkt, vom Etikett' });
    await page.getByLabel('Der andere Wert').fill('410 °F');
    await page.getByRole('button', { name: 'Vergleichen' }).click();
    await page.locator('#what-if ~ div table').waitFor();
    await expectAccessibleInBoth(page, 'side by side');
    await shoot(page, 'workshop-margin-de');

    await page.goto('/workshop?from=garage&do=roll-clearance');
    await page.getByRole('button', { name: 'Beispiel einsetzen' }).click();
    await page.getByRole('button', { name: 'Rechnen' }).click();
    await page.locator('.to-scale').waitFor();
    await shoot(page, 'workshop-roll-de');

    await page.goto('/workshop?from=garage&do=tyre-age');
    await page.getByLabel('Die letzten vier Ziffern der DOT-Nummer').fill('6024');
    await page.getByLabel('Tag, für den das Alter gefragt ist').fill('2026-06-13');
    await page.getByRole('button', { name: 'Rechnen' }).click();
    await page.getByText('Das lässt sich nicht rechnen.').waitFor();
    await page.locator('.fault[lang=en]').waitFor();
    expect(faults).toEqual([]);
  });

  test('says to somebody without access where to come from', async () => {
    const phone = await openDevice(browser, { url: site.url });
    const page = await phone.newPage();
    await page.goto('/workshop');
    await page.getByText('No access on this device').waitFor();
    await expectAccessibleInBoth(page, 'no access');
  });
});
