import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import {
  expectAccessible,
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

describe.skipIf(!hasChromium())('what an entrant writes down after a session', () => {
  let site: Site;
  let browser: Browser;
  beforeAll(async () => {
    [site, browser] = await Promise.all([startSite(), startBrowser()]);
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await site.close();
  });

  test('a torque is kept, and a smell of fuel stops the car, which the page says', async () => {
    const device = await openDevice(browser, { url: site.url, viewport: SMALLEST });
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage#${site.demo.tokens.entrant}`);
    const panel = page.locator('#log');
    await panel.locator('summary').click();
    await page.getByLabel('Wheel torque').fill('110');
    await page.getByLabel('The wheels have cooled').check();
    await page.getByRole('button', { name: 'Write the torque down' }).click();
    await panel.getByText('Written down.').waitFor();
    const api = site.t.api('organizer');
    const address = `/v1/entries/${site.demo.walkEntryId}`;
    const { body } = await api.get(`${address}/log`).expect(200);
    expect(body.log).toMatchObject([{ kind: 'torque', cells: { 'wheel.torque-setting': 110 }, wheelsCooled: true }]);
    await expectAccessible(page, 'after a session');
    await expectReflow(page);
    await expectTargets(page, 44);
    await page.getByRole('button', { name: 'It smells of fuel' }).click();
    await panel.getByText('The car is stopped').waitFor();
    await page.getByRole('heading', { name: 'You stopped this car' }).waitFor();
    const held = (await api.get(address).expect(200)).body;
    expect(held).toMatchObject({
      clearance: { admit: false, status: 'held' },
      holds: [{ byEntrant: true, kind: 'leak' }],
    });
    expect(faults).toEqual([]);
    await device.close();
  });
});
