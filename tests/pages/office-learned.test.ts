import { mkdirSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { sql } from '../support/records.ts';
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

describe.skipIf(!hasChromium())('how good were we', () => {
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

  test('says that there is nothing yet, and what there is once an event is over', async () => {
    const chief = await site.t.mint('chief', { holder: 'Chief inspector' });
    const laptop = await openDevice(browser, { url: site.url, viewport: DESKTOP });
    const page = await laptop.newPage();
    const faults = watchPage(page);
    await page.goto(`/office?section=learned#${chief.token}`);
    await page.getByText('No point that was chosen has been looked at yet').waitFor();
    await page.getByText('No pad was measured by the line at two events yet').waitFor();
    await expectAccessibleInBoth(page, 'nothing yet');

    // The event is over, and each point that was looked at had been chosen with a chance.
    await sql(site.t, `UPDATE events SET starts_on = starts_on - 30, ends_on = ends_on - 30`, []);
    await sql(
      site.t,
      `UPDATE claims c SET looks = (
         SELECT jsonb_agg(jsonb_build_object('item', k->>'item', 'chance', 0.08, 'why', 'here', 'looked', 1, 'wrong', 0, 'seconds', 9))
         FROM jsonb_array_elements(s.checks) k) FROM sign_offs s WHERE s.claim_id = c.id`,
      [],
    );
    await page.reload();
    await page.locator('.chart').first().waitFor();
    const { body } = await site.t.api('chief').get('/v1/learned').expect(200);
    expect(body.looks.chosen.of).toBeGreaterThan(5);
    expect(body.looks.others.of).toBeGreaterThanOrEqual(0);
    await page.getByText(`Chosen points were wrong in ${body.looks.chosen.count} of ${body.looks.chosen.of}`).waitFor();
    if (!(body.looks.isEnough as boolean)) await page.getByText('Not enough yet to judge by').first().waitFor();
    await expectAccessibleInBoth(page, 'with a plot');
    await shoot(page, 'office-learned');

    const phone = await openDevice(browser, { url: site.url, viewport: SMALLEST, language: 'de', theme: 'dark' });
    const own = await phone.newPage();
    await own.goto(`/office?section=learned#${chief.token}`);
    await own.locator('.chart').first().waitFor();
    await expectReflow(own);
    await expectTargets(own, 44);
    await expectAccessibleInBoth(own, 'German, on a phone');
    await shoot(own, 'office-learned-phone');
    expect(faults).toEqual([]);
  });
});
