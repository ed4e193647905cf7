import type { AddressInfo } from 'node:net';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import {
  DESKTOP,
  expectAccessible,
  expectReflow,
  expectTargets,
  hasChromium,
  leaveBrowser,
  openDevice,
  PHONE,
  startBrowser,
  watchPage,
} from './support/browser.ts';
import { startTestApp, type TestApp, type TestToken } from '../support/app.ts';
import { tickingClock } from '../support/clock.ts';

/** Where pictures go that a person wants to look at; nothing is drawn without. */
const PICTURES = process.env['PICTURES'];

describe.skipIf(!hasChromium())('limits as a form', () => {
  let t: TestApp;
  let browser: Browser;
  let url: string;
  let organizer: TestToken;
  let eventId: string;

  beforeAll(async () => {
    [t, browser] = await Promise.all([startTestApp({ clock: tickingClock() }), startBrowser()]);
    url = `http://127.0.0.1:${(t.app.server.address() as AddressInfo).port}`;
    organizer = await t.mint('organizer', { holder: 'Office desk' });
    const post = async (path: string, body: object) => (await t.api(organizer).post(path).send(body).expect(201)).body;
    const { venueId } = await post('/v1/venues', { name: 'Alder Ridge', timeZone: 'UTC' });
    const day = new Date(Date.now() + 7 * 86_400_000).toISOString().slice(0, 10);
    const window = { declarationsOpenAt: new Date().toISOString(), declarationsCloseAt: `${day}T06:00:00Z` };
    const event = { name: 'Club day', venueId, startsOn: day, endsOn: day, ...window };
    eventId = (await post('/v1/events', event)).eventId;
    const { ruleSetId } = await post('/v1/built-in-rules/adopt', { name: 'Our rules' });
    for (const [order, name] of ['Novice', 'Advanced'].entries()) {
      const group = { name, order, firstSessionAt: `${day}T09:00:00Z`, ruleSetId, ruleSetVersion: 1 };
      await post(`/v1/events/${eventId}/run-groups`, group);
    }
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await t.close();
  });

  const groups = async (): Promise<{ runGroupId: string; name: string; parameters: Record<string, unknown> }[]> => {
    return (await t.api(organizer).get(`/v1/events/${eventId}/run-groups`)).body.runGroups;
  };
  const limit = (page: Page, name: string) => page.locator(`[data-limit=${name}]`);
  const press = (page: Page, name: string) => page.getByRole('button', { name, exact: true }).click();

  async function looked(page: Page, name: string): Promise<void> {
    await expectAccessible(page, name);
    await expectReflow(page);
    await expectTargets(page, 44);
    if (PICTURES !== undefined) await page.screenshot({ path: `${PICTURES}/${name}.png`, fullPage: true });
  }

  test('one limit is changed with who changes by it, why it is kept, and it is put back', async () => {
    const [novice] = await groups();
    const device = await openDevice(browser, { url: url, viewport: DESKTOP });
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/office#${organizer.token}`);
    await page.locator('nav.sections').waitFor();
    await page.goto(`/office?section=rules&group=${novice?.runGroupId}`);
    await limit(page, 'padThicknessMinimum').waitFor();
    expect(await page.locator('[data-limit]').count()).toBeGreaterThan(100);

    await page.getByLabel('Search').fill('friction material');
    const pad = limit(page, 'padThicknessMinimum');
    await pad.locator('input').fill('80');
    await pad.getByText('far from what is usual').waitFor();
    await pad.locator('input').fill('8,5');
    expect(await pad.getByText('far from what is usual').count()).toBe(0);
    await page.getByLabel('Why', { exact: true }).fill('Two heavy braking zones');
    await press(page, 'Show which cars change');
    await page.locator('[data-shown]').waitFor({ timeout: 60_000 });
    await looked(page, 'limits-preview');
    await press(page, 'Save the limits');
    await page.getByText('The limits are saved.').waitFor({ timeout: 60_000 });
    await page.getByLabel('Search').fill('friction material');
    await pad.getByText('Why: Two heavy braking zones').waitFor();
    expect((await groups())[0]?.parameters['padThicknessMinimum']).toEqual({
      value: 8.5,
      unit: 'mm',
      reason: 'Two heavy braking zones',
    });

    await pad.getByRole('button', { name: /^Put back to built-in/ }).click();
    await page.getByLabel('Why', { exact: true }).fill('As it was');
    await press(page, 'Show which cars change');
    await press(page, 'Save the limits');
    await expect
      .poll(async () => (await groups())[0]?.parameters['padThicknessMinimum'], { timeout: 60_000 })
      .toBeUndefined();

    const german = await openDevice(browser, { url: url, viewport: PHONE, language: 'de' });
    const phone = await german.newPage();
    await phone.goto(`/office#${organizer.token}`);
    await phone.locator('nav.sections').waitFor();
    await phone.goto(`/office?section=rules&group=${novice?.runGroupId}`);
    await limit(phone, 'alwaysLookPoints').waitFor();
    await phone.getByText('Was jede von', { exact: false }).first().click();
    await looked(phone, 'limits-phone-de');
    expect(faults).toEqual([]);
    await device.close();
    await german.close();
  });

  test('a limit of the venue reaches every group that is judged by the same rules', async () => {
    const [, second] = await groups();
    const device = await openDevice(browser, { url: url, viewport: DESKTOP });
    const page = await device.newPage();
    await page.goto(`/office#${organizer.token}`);
    await page.locator('nav.sections').waitFor();
    await page.goto(`/office?section=rules&group=${second?.runGroupId}`);
    await page.getByLabel('Search').fill('oil-age');
    await page
      .getByText(/^What each of/)
      .first()
      .click();
    await page.locator('[data-rule=oil-age] select').selectOption('inspect');
    await page.getByLabel('For whom').selectOption('venue');
    await page.getByLabel('Why', { exact: true }).fill('Long corners');
    await press(page, 'Show which cars change');
    const names = (await groups()).map(({ name }) => name);
    await expect.poll(() => page.locator('[data-shown]').count(), { timeout: 120_000 }).toBe(names.length);
    await press(page, 'Save the limits');
    await page.getByText('The limits are saved.').waitFor({ timeout: 120_000 });
    for (const { runGroupId } of await groups()) {
      const { body } = await t.api(organizer).get(`/v1/run-groups/${runGroupId}/limits`);
      const oil = body.effects.find(({ ruleId }: { ruleId: string }) => ruleId === 'oil-age');
      expect(oil).toMatchObject({ effect: 'inspect', from: 'venue', reason: 'Long corners' });
    }
    await device.close();
  });
});
