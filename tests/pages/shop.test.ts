import { mkdirSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { TestEntry } from '../support/event.ts';
import { giveCar, inviteShop, type TestShop } from '../support/shop.ts';
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

const SHOTS = 'dist/screenshots';

describe.skipIf(!hasChromium())('the shop', () => {
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
  const organizer = () => site.t.api('organizer');

  async function owned(entryId: string, carNumber: string, holder: string): Promise<TestEntry> {
    return { entryId, carNumber, entrant: await site.t.mint('entrant', { holder, entryId }) };
  }

  /** Eight cars of this weekend, the barred one among them, and four of the one in a month. */
  async function twelve(): Promise<[TestEntry, ...TestEntry[]]> {
    const { eventId, barredEntryId } = site.demo;
    const { body: listed } = await organizer().get(`/v1/events/${eventId}/entries?limit=100`).expect(200);
    type Listed = { entryId: string; carNumber: string; runGroupId: string; clearance: { status: string } };
    const all = (listed.entries as Listed[]).filter(({ clearance }) => clearance.status !== 'withdrawn');
    const barred = all.filter(({ entryId }) => entryId === barredEntryId);
    const others = all.filter(({ entryId }) => entryId !== barredEntryId).slice(0, 7);
    const now = await Promise.all(
      [...barred, ...others].map((one) => owned(one.entryId, one.carNumber, `Owner of ${one.carNumber}`)),
    );
    const startsOn = new Date(site.t.clock.now().getTime() + 30 * 86_400_000).toISOString().slice(0, 10);
    const { body: copy } = await organizer()
      .post(`/v1/events/${eventId}/copies`)
      .send({ name: 'Autumn weekend', startsOn })
      .expect(201);
    const { body: groups } = await organizer().get(`/v1/events/${copy.eventId}/run-groups`).expect(200);
    const later = [];
    for (const carNumber of ['201', '202', '203', '204']) {
      const { body } = await organizer()
        .post(`/v1/events/${copy.eventId}/entries`)
        .send({
          carNumber,
          runGroupId: groups.runGroups[0].runGroupId,
          entrant: { name: `Owner of ${carNumber}` },
          vehicle: {
            description: 'Hatchback 1.6, 2009',
            body: 'closed',
            powertrain: 'combustion',
            wheelNutTorqueNm: 110,
          },
        })
        .expect(201);
      later.push(await owned(body.entryId, carNumber, `Owner of ${carNumber}`));
    }
    return [...now, ...later] as [TestEntry, ...TestEntry[]];
  }

  test('has twelve cars on a phone: takes them by links, works one off, signs, and the owner sees who said what', async () => {
    const [first, second, ...others] = await twelve();
    if (second === undefined) throw new Error('there are twelve');
    const owner = await openDevice(browser, { url: site.url, viewport: SMALLEST });
    const garage = await owner.newPage();
    await garage.goto(`/garage#${first.entrant.token}`);
    await garage.locator('.shops > summary').click();
    await garage.getByLabel('Name of the workshop').fill('Unit 7 workshop');
    await garage.getByRole('button', { name: 'Make a link' }).click();
    const url = (await garage.locator('.shops .notice a').getAttribute('href')) ?? '';
    await expectAccessible(garage, 'owner, a link made');
    await expectReflow(garage);

    const phone = await openDevice(browser, { url: site.url, viewport: SMALLEST });
    const page = await phone.newPage();
    const faults = watchPage(page);
    await page.goto(url);
    await expectAccessible(page, 'a first car');
    await page.getByLabel('Name of your shop').fill('Unit 7 workshop');
    await page.getByRole('button', { name: 'Take the car' }).click();
    await page.locator('.shop-car').waitFor();
    // the second car is taken by opening its link, the others likewise
    const tab = await phone.newPage();
    await tab.goto((await inviteShop(site.t, second)).url.replace(/^.*\/shop/, `${site.url}/shop`));
    await tab.locator('.shop-car').nth(1).waitFor();
    await tab.close();
    const kept = JSON.parse((await page.evaluate(() => localStorage.getItem('gridworthy.session.shop'))) ?? '{}');
    const shop: TestShop = { shopId: kept.shopId, token: { tokenId: '', token: kept.token, role: 'shop', holder: '' } };
    for (const entry of others) await giveCar(site.t, shop, entry);
    await page.reload();
    await page.locator('.shop-car').nth(11).waitFor();
    expect(await page.locator('.shop-car').count()).toBe(12);
    await page.getByRole('heading', { name: 'To order' }).waitFor();
    await expectAccessible(page, 'twelve cars');
    await expectReflow(page);
    await expectTargets(page, 44);
    await shoot(page, 'shop-cars-phone');

    await page.getByRole('button', { name: `Open Car ${first.carNumber}`, exact: true }).click();
    const line = page.locator('section[aria-labelledby="work"] li', { hasText: 'Brake pad thickness' }).first();
    await line.waitFor();
    // the same order on the screen and on the printed work order, each wheel off once
    const inOrder = await page.locator('.no-print .work-steps').innerText();
    expect(inOrder.match(/(?:Front|Rear) wheels off/g)?.length).toBe(
      new Set(inOrder.match(/(?:Front|Rear) wheels off/g)).size,
    );
    expect(inOrder).toContain('Order or book this first');
    expect(await page.locator('.sheet .work-steps li').count()).toBe(
      await page.locator('.no-print .work-steps li').count(),
    );
    await expectAccessible(page, 'a work order');
    await expectReflow(page);
    await shoot(page, 'shop-car-phone');
    await line.getByRole('button', { name: 'Done: answer again' }).click();
    const fields = page.locator('section[aria-labelledby="work"] .item input.number');
    for (const field of await fields.all()) await field.fill('11');
    await page.locator('.state.good', { hasText: 'Good now' }).first().waitFor();
    await expectAccessible(page, 'a job done');
    await page.getByLabel('Your name').fill('Ada Quist');
    await page.getByRole('button', { name: /^Sign \d+ question/ }).click();
    await page.getByText('Signed. The owner sees it now').waitFor();
    await expectTargets(page, 44);

    // No network: the list, this car, and one that was never opened; what is answered waits on this device.
    await page.evaluate(async () => navigator.serviceWorker.ready);
    await page.getByRole('button', { name: 'All cars' }).click();
    await page.locator('.shop-car').nth(11).waitFor();
    const isRead = () =>
      page.evaluate(
        async () =>
          new Promise((done) => {
            const opening = indexedDB.open('gridworthy-garage');
            opening.addEventListener('success', () => {
              const count = opening.result.transaction('known').objectStore('known').count();
              count.addEventListener('success', () => done(count.result));
            });
          }),
      );
    await expect.poll(isRead, { timeout: 60_000 }).toBe(12);
    await phone.setOffline(true);
    await page.reload();
    await page.getByText('No network. What you see is from').waitFor();
    await expectAccessible(page, 'twelve cars, no network');
    await page.getByRole('button', { name: 'Open Car 204', exact: true }).click();
    await page.getByText('110 N·m').first().waitFor();
    await page.locator('.shop-area > summary').first().click();
    await page.locator('.shop-area .item input.number').first().fill('3');
    await page
      .getByText(/Offline\. Not yet sent: 1 answer/)
      .first()
      .waitFor();
    await expectAccessible(page, 'a car, no network');
    await expectReflow(page);
    await shoot(page, 'shop-car-no-network');
    await phone.setOffline(false);
    await page
      .getByText(/No network/)
      .first()
      .waitFor({ state: 'detached' });
    expect(faults).toEqual([]);

    await garage.reload();
    await garage.locator('.shops > summary').click();
    await garage.getByText('Signed by Ada Quist').waitFor();
    const { body: form } = await site.t.api(first.entrant).get(`/v1/entries/${first.entryId}/form`).expect(200);
    expect(form.said).toMatchObject([{ shop: 'Unit 7 workshop', name: 'Ada Quist' }]);

    const german = await openDevice(browser, { url: site.url, viewport: SMALLEST, language: 'de', theme: 'dark' });
    const own = await german.newPage();
    await own.goto(`/shop#${shop.token.token}`);
    await own.locator('.shop-car').nth(11).waitFor();
    expect(own.url()).not.toContain('gw_');
    await expectAccessible(own, 'German');
    await expectReflow(own);
    await shoot(own, 'shop-cars-german-dark');
    await own.getByRole('button', { name: 'Öffnen Auto 201', exact: true }).click();
    await own.getByText('110 N·m').first().waitFor();
    await own.locator('.shop-area > summary').first().click();
    await expectAccessible(own, 'German, questions open');
    await expectReflow(own);
    await own.emulateMedia({ media: 'print' });
    await own.locator('.sheet', { hasText: 'Arbeitsauftrag, Auto 201' }).waitFor();
    await shoot(own, 'shop-sheet-german');
  });
});
