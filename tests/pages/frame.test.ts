import { describe, expect, test } from 'vitest';
import {
  expectAccessibleInBoth,
  expectReflow,
  hasChromium,
  openDevice,
  SMALLEST,
  watchPage,
} from './support/browser.ts';
import { browser, site, useSite } from './support/site.ts';

const PAGES = ['/garage', '/line', '/gate', '/office', '/enrol'];

describe.skipIf(!hasChromium())('every page without access', () => {
  useSite();

  test.each(PAGES.flatMap((path) => (['en', 'de'] as const).map((language) => [path, language] as const)))(
    '%s in %s: accessible in light and dark, narrow',
    async (path, language) => {
      const device = await openDevice(browser, { url: site.url, language, viewport: SMALLEST });
      const page = await device.newPage();
      const faults = watchPage(page);
      await page.goto(path);
      await page.locator('h1').waitFor();
      expect(await page.getAttribute('html', 'lang')).toBe(language);
      await expectAccessibleInBoth(page, `${path} ${language}`);
      await expectReflow(page);
      expect(faults).toEqual([]);
      await device.close();
    },
  );

  test.each(['en', 'de'] as const)(
    'the office offers the sign-in that there is, and says why it failed, in %s',
    async (language) => {
      const device = await openDevice(browser, { url: site.url, language, viewport: SMALLEST });
      const page = await device.newPage();
      await page.route('**/sign-in/offer', (route) => route.fulfill({ json: { offered: true, name: 'Alder Ridge' } }));
      await page.goto('/office?sign-in=nobody&x=1');
      const link = page.getByRole('link', {
        name: language === 'de' ? 'Anmelden mit Alder Ridge' : 'Sign in with Alder Ridge',
      });
      await link.waitFor();
      expect(await link.getAttribute('href')).toBe('/sign-in');
      expect(await page.locator('.panel .notice').textContent()).toMatch(
        /Ask the organizer|Fragen Sie den Veranstalter/,
      );
      expect(new URL(page.url()).search).toBe('?x=1');
      await expectAccessibleInBoth(page, `sign-in ${language}`);
      await expectReflow(page);
      await page.screenshot({ path: `dist/screenshots/office-sign-in-${language}.png` });
      await device.close();
    },
  );
});
