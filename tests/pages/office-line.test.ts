import { describe, expect, test } from 'vitest';
import { DESKTOP, hasChromium, openDevice, PHONE } from './support/browser.ts';
import { browser, site, useSite } from './support/site.ts';

const PATIENCE = { timeout: 60_000 };

describe.skipIf(!hasChromium())('the office plans the line', () => {
  useSite();

  test.each(['en', 'de'] as const)(
    'in %s: shows what comes of it, tells the times, and the inspector reads them',
    async (language) => {
      const words = {
        en: {
          show: 'Show what comes of it',
          tell: 'Tell these times',
          remove: 'Leave out',
          told: 'The times are told.',
          lane: 'lane',
          line: 'Told to come at',
        },
        de: {
          show: 'Zeigen, was daraus wird',
          tell: 'Diese Zeiten sagen',
          remove: 'Weglassen',
          told: 'Die Zeiten sind gesagt.',
          lane: 'Spur',
          line: 'Bestellt für',
        },
      }[language];
      const device = await openDevice(browser, { url: site.url, viewport: DESKTOP, language });
      const page = await device.newPage();
      await page.goto(`/office?section=line&event=${site.demo.eventId}#${site.demo.tokens.organizer}`);
      const show = page.getByRole('button', { name: words.show });
      await show.waitFor(PATIENCE);
      // hours that lie ahead whenever this runs
      const remove = page.getByRole('button', { name: words.remove });
      while ((await remove.count()) > 1) await remove.last().click();
      const tomorrow = new Date(Date.now() + 86_400_000).toISOString().slice(0, 10);
      await page.locator('input[type="datetime-local"]').first().fill(`${tomorrow}T05:00`);
      await page.locator('input[type="datetime-local"]').last().fill(`${tomorrow}T11:00`);
      await show.click();
      const tell = page.getByRole('button', { name: words.tell });
      await tell.waitFor(PATIENCE);
      const previewed = await page.locator('table').first().locator('tbody tr').count();
      expect(previewed).toBeGreaterThan(0);
      await tell.click();
      await page.getByText(words.told).waitFor(PATIENCE);
      await page.getByText(words.lane).first().waitFor(PATIENCE);
      await device.close();
      const phone = await openDevice(browser, { url: site.url, viewport: PHONE, language });
      const line = await phone.newPage();
      await line.goto(`/line?event=${site.demo.eventId}#${site.demo.tokens.inspector}`);
      await line.getByText(words.line).first().waitFor(PATIENCE);
      await phone.close();
    },
  );
});
