import type { BrowserContext, Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import { expectAccessible, hasChromium, openDevice, watchPage } from './support/browser.ts';
import { browser, site, useSite } from './support/site.ts';

/** A device whose storage can be broken: `full` refuses what is to be kept, `blocked` does not open at all. */
async function breakable(device: BrowserContext): Promise<void> {
  await device.addInitScript(() => {
    const { put } = IDBObjectStore.prototype;
    const { open } = IDBFactory.prototype;
    const broken = () => (globalThis as { storage?: string }).storage;
    IDBObjectStore.prototype.put = function (...value) {
      if (broken() === 'full') throw new DOMException('no room', 'QuotaExceededError');
      return put.apply(this, value);
    };
    IDBFactory.prototype.open = function (...name) {
      if (broken() === 'blocked') throw new DOMException('not here', 'SecurityError');
      return open.apply(this, name);
    };
  });
}

const setStorage = (page: Page, state: 'full' | 'blocked' | undefined) =>
  page.evaluate((wanted) => Object.assign(globalThis, { storage: wanted }), state);

describe.skipIf(!hasChromium())('a device that keeps nothing', () => {
  useSite();

  const notKept = (page: Page) => page.getByText(/^Not kept on this device/);
  const typePad = async (page: Page, mm: string) => page.getByLabel('Front left, Inner pad, mm').fill(mm);

  test("says so on the entrant's page when storage fills up, and no longer when there is room again", async () => {
    const device = await openDevice(browser, { url: site.url });
    await breakable(device);
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage#${site.demo.tokens.entrant}`);
    await page.getByText('All questions by area').click();
    await page.getByRole('button', { name: /Pads, linings, rotors and drums/ }).click();
    await typePad(page, '7');
    await page.locator('.status-bar').getByText('Saved', { exact: true }).waitFor();
    expect(await notKept(page).count()).toBe(0);

    await setStorage(page, 'full');
    await typePad(page, '8');
    await notKept(page).waitFor();
    await expectAccessible(page, 'not kept');
    // The server has it all the same.
    await page.locator('.status-bar').getByText('Saved', { exact: true }).waitFor();

    await setStorage(page, undefined);
    await typePad(page, '9');
    await notKept(page).waitFor({ state: 'detached' });
    expect(faults).toEqual([]);
    await device.close();
  });

  test('works for an entrant whose browser has no storage at all, and says so, in German too', async () => {
    const device = await openDevice(browser, { url: site.url, language: 'de' });
    await device.addInitScript(() => Object.assign(globalThis, { storage: 'blocked' }));
    await breakable(device);
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage#${site.demo.tokens.entrant}`);
    await page.locator('.car-number').getByText('21').waitFor();
    await page.getByText(/^Nicht auf diesem Gerät gesichert/).waitFor();
    expect(faults).toEqual([]);
    await device.close();
  });

  test('says so at the gate, which answers on', async () => {
    const device = await openDevice(browser, { url: site.url });
    await device.addInitScript(() => Object.assign(globalThis, { storage: 'blocked' }));
    await breakable(device);
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/gate#${site.demo.tokens.marshal}`);
    await notKept(page).waitFor();
    expect(faults).toEqual([]);
    await device.close();
  });
});
