import { mkdirSync } from 'node:fs';
import type { Browser, Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openTestShop, type TestShop } from '../support/shop.ts';
import {
  expectAccessible,
  hasChromium,
  leaveBrowser,
  openDevice,
  PHONE,
  type PhoneOptions,
  SMALLEST,
  startBrowser,
} from './support/browser.ts';
import { type Site, startSite } from './support/site.ts';

const SHOTS = 'dist/screenshots';

/** What no person is to read: names of texts, cells, fields and options as programs write them, instants, what went wrong, nothing where something is announced. */
const RAW =
  /\{\w+\}|\b(?:task|stage|pack|date|state|kind|origin|place|part|unit|counts|screen)\.[a-z]|[a-z]+\.[a-z-]+@[A-Z*a-z]|\b[a-z]+[A-Z][a-zA-Z]*(?:Mm|Nm|Kg|Kpa|Kmh)\b|\dT\d\d:\d\d|\bundefined\b|\bNaN\b|\[object|: \.|\b[0-9a-f]{8}-[0-9a-f]{4}-/u;

describe.skipIf(!hasChromium())('what entrants and shops see, everywhere', () => {
  let site: Site;
  let browser: Browser;
  let shop: TestShop & { shopLinkId: string };
  let barred: string;
  beforeAll(async () => {
    mkdirSync(SHOTS, { recursive: true });
    [site, browser] = await Promise.all([startSite(), startBrowser()]);
    const entryId = site.demo.barredEntryId;
    const entrant = await site.t.mint('entrant', { holder: 'Petra Osgood', entryId });
    barred = entrant.token;
    shop = await openTestShop(site.t, { entryId, carNumber: '12', entrant });
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await site.close();
  });

  /** Each view with what it is there by. */
  const VIEWS: readonly { name: string; path: string; there: string }[] = [
    { name: 'hub', path: '/garage', there: '#walk' },
    { name: 'check', path: '/garage?check', there: '#check' },
    { name: 'verdict', path: '/garage?verdict', there: '#verdict' },
    { name: 'session', path: '/garage?session', there: '#session' },
    { name: 'countdown', path: '/garage?countdown', there: '#pack' },
    { name: 'workshop', path: '/garage?workshop', there: '#workshop' },
    { name: 'car', path: '/car?entry', there: '.car-section' },
    { name: 'shop', path: '/shop', there: '.shop-car' },
    { name: 'shop-car', path: '', there: 'section[aria-labelledby="work"] li' },
  ];

  async function enter(options: Partial<PhoneOptions>): Promise<Page> {
    const device = await openDevice(browser, { url: site.url, ...options });
    const page = await device.newPage();
    await page.goto(`/garage#${barred}`);
    await page.locator('#walk').waitFor();
    await page.goto(`/shop#${shop.token.token}`);
    await page.locator('.shop-car').waitFor();
    return page;
  }

  async function show(page: Page, { path, there }: (typeof VIEWS)[number]): Promise<void> {
    await page.goto(path === '' ? `/shop?car=${shop.shopLinkId}` : path);
    await page.locator(there).first().waitFor();
    // what is folded away is read too
    await page.evaluate(() => {
      for (const one of document.querySelectorAll('details')) one.open = true;
    });
  }

  /** What stands beyond the right edge, where the page scrolls sideways for it (WCAG 2.2, 1.4.10). */
  const sticksOut = (page: Page): Promise<string[]> =>
    page.evaluate(() => {
      const { scrollWidth, clientWidth } = document.documentElement;
      if (scrollWidth <= clientWidth) return [];
      const all = [...document.querySelectorAll<HTMLElement>('body *')];
      const out = all.filter((one) => one.getBoundingClientRect().right > clientWidth + 0.5);
      return out.slice(0, 5).map((one) => one.outerHTML.slice(0, 100));
    });

  const VARIANTS: readonly { name: string; options: Partial<PhoneOptions>; scale?: string }[] = [
    { name: 'german-dark-320', options: { viewport: SMALLEST, language: 'de', theme: 'dark' } },
    { name: 'english-large', options: { viewport: PHONE }, scale: '200%' },
    { name: 'german-large', options: { viewport: PHONE, language: 'de' }, scale: '200%' },
  ];

  test.each(VARIANTS)('every view as $name: fits, says nothing raw, and axe finds nothing', async (variant) => {
    const page = await enter(variant.options);
    const raw: string[] = [];
    const wide: string[] = [];
    for (const view of VIEWS) {
      await show(page, view);
      // text twice as large, as a phone is set: WCAG 2.2, 1.4.4
      if (variant.scale !== undefined) {
        await page.evaluate((scale) => (document.documentElement.style.fontSize = scale), variant.scale);
      }
      const said = await page.locator('body').innerText();
      for (const line of said.split('\n')) if (RAW.test(line)) raw.push(`${view.name}: ${line.slice(0, 120)}`);
      wide.push(...(await sticksOut(page)).map((one) => `${view.name}: ${one}`));
      await expectAccessible(page, `${view.name}, ${variant.name}`);
      await page.screenshot({ path: `${SHOTS}/everywhere-${view.name}-${variant.name}.png`, fullPage: true });
    }
    expect(raw).toEqual([]);
    expect(wide).toEqual([]);
    await page.context().close();
  });

  /** Tab until it has the focus, which is seen all the way. */
  async function tabTo(page: Page, target: Locator): Promise<void> {
    for (let presses = 0; presses < 150; presses += 1) {
      await page.keyboard.press('Tab');
      if (await target.evaluate((one) => one === document.activeElement)) {
        const isSeen = await target.evaluate((one) => {
          const { outlineStyle, boxShadow } = getComputedStyle(one);
          return outlineStyle !== 'none' || boxShadow !== 'none';
        });
        expect(isSeen, 'the focus is seen').toBe(true);
        return;
      }
    }
    throw new Error(`no way by keyboard to ${String(target)}`);
  }

  test('session, car and shop are worked by keyboard alone', async () => {
    const page = await enter({ viewport: PHONE });
    await page.goto('/garage?session');
    await page.locator('#session').waitFor();
    await tabTo(page, page.locator('[id="session-hot.FL"]'));
    await page.keyboard.type('214');
    await tabTo(page, page.getByRole('button', { name: 'Write it down' }));
    await page.keyboard.press('Enter');
    await page.getByText('Written down: pressures, session 1.').waitFor();

    await page.goto('/car?entry');
    await page.locator('.car-section').first().waitFor();
    await tabTo(page, page.locator('.car-section > summary', { hasText: 'Bushings' }));
    await page.keyboard.press('Enter');
    await tabTo(page, page.getByLabel('Bushing, front lower arm'));
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('Tab');
    await page.locator('.question', { hasText: 'front lower arm' }).getByText('Saved.').waitFor();

    await page.goto('/shop');
    await page.locator('.shop-car').waitFor();
    await tabTo(page, page.getByRole('button', { name: /^Open Car/ }));
    await page.keyboard.press('Enter');
    await page.locator('section[aria-labelledby="work"] li').first().waitFor();
    await tabTo(page, page.getByRole('button', { name: /^Done: answer again/ }).first());
    await page.keyboard.press('Enter');
    await page.locator('section[aria-labelledby="work"] .item').first().waitFor();
    await tabTo(page, page.getByLabel('Your name'));
    await page.context().close();
  });
});
