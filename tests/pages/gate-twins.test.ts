import type { Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import { expectAccessible, expectReflow, expectTargets, hasChromium, openDevice } from './support/browser.ts';
import { askByKeyboard, contactIs, openGateDevice, readAnswer } from './support/gate.ts';
import { browser, site, useSite } from './support/site.ts';

// 16 and 61 are swapped, 17 has nothing like it but 71, which nobody has; 7 and 07 are the same when spoken.
const ALONE = '17';

describe.skipIf(!hasChromium())('numbers that look alike at the gate', () => {
  useSite();

  const type = async (page: Page, number: string) => {
    await page.keyboard.type(number);
    await page.keyboard.press('Enter');
  };
  /** What a marshal can tell by looking: the cars named with an answer. */
  async function lookAt(page: Page) {
    await type(page, '7');
    await page.getByRole('heading', { name: 'Two cars. Read the door.' }).waitFor();
    expect(await page.locator('.answer').count()).toBe(0);
    const twins = await page.locator('.twins button').allInnerTexts();
    await page.locator('.twins button').first().click();
    const seven = await readAnswer(page, '7');
    const also = async () => page.locator('.also').allInnerTexts();
    const ofSeven = { ...seven, source: '', also: await also(), car: await page.locator('.car').innerText() };
    const { source: _, ...sixteen } = await askByKeyboard(page, '16');
    const ofSixteen = { ...sixteen, also: await also(), car: await page.locator('.car').innerText() };
    await askByKeyboard(page, ALONE);
    return { twins, ofSeven, ofSixteen, alone: await also() };
  }

  test('twins are asked about first, others are named beside the answer, the same with and without a network', async () => {
    const { device, page, faults } = await openGateDevice(browser, site);
    const online = await lookAt(page);
    expect(online.twins).toHaveLength(2);
    expect(online.twins[0]).toMatch(/^7\b.+, \S+/s);
    expect(online.twins[1]).toMatch(/^07\b.+, \S+/s);
    expect(online.ofSixteen.kind).toBe('conditions');
    expect(online.ofSixteen.also).toContainEqual(expect.stringMatching(/^Also here: 61, .+, .+\.$/));
    expect(online.alone).toEqual([]);
    await device.setOffline(true);
    await contactIs(page, 'offline');
    expect(await lookAt(page)).toEqual(online);
    expect(faults).toEqual([]);
    await device.close();
  });

  test('nothing is asked or written down before the choice, which can be left and is accessible', async () => {
    const { device, page } = await openGateDevice(browser, site);
    const before = await site.t.deps.db.prisma.gateCheck.count();
    await type(page, '07');
    await page.locator('.twins').waitFor();
    await expectAccessible(page, 'twins');
    await expectTargets(page, 64, '.screen');
    await expectReflow(page);
    expect(await site.t.deps.db.prisma.gateCheck.count()).toBe(before);
    await page.keyboard.press('Escape');
    expect(await askByKeyboard(page, ALONE)).toMatchObject({ kind: 'go' });
    await device.close();
  });

  test('a device without a list learns of twins by the answer, and shows none before the choice', async () => {
    const device = await openDevice(browser, { url: site.url });
    await device.route('**/gate/snapshot?*', (route) =>
      route.fulfill({ contentType: 'application/jose', body: 'a.b.c' }),
    );
    const page = await device.newPage();
    await page.goto(`/gate#${site.demo.tokens.marshal}`);
    await contactIs(page, 'online');
    await type(page, '7');
    await page.locator('.twins').waitFor();
    expect(await page.locator('.answer').count()).toBe(0);
    await page.locator('.twins button').nth(1).click();
    expect(await readAnswer(page, '07')).toMatchObject({ kind: 'stop', status: 'in-line', source: 'server' });
    await device.close();
  });
});
