import type { BrowserContext, Page } from 'playwright-core';
import { beforeAll, describe, expect, test } from 'vitest';
import type { TestToken } from '../support/app.ts';
import {
  DESKTOP,
  expectAccessible,
  expectAccessibleInBoth,
  expectReflow,
  expectTargets,
  hasChromium,
  openDevice,
  type PhoneOptions,
  SMALLEST,
  watchPage,
} from './support/browser.ts';
import { browser, site, useSite } from './support/site.ts';

describe.skipIf(!hasChromium())("the entrant's page in every state", () => {
  useSite();
  let barred: TestToken;
  beforeAll(async () => {
    barred = await site.t.mint('entrant', { holder: 'Petra Osgood', entryId: site.demo.barredEntryId });
  });

  async function open(token: string, path: string, options: Partial<PhoneOptions>) {
    const device = await openDevice(browser, { url: site.url, ...options });
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage${path}#${token}`);
    await page.locator('main h2').first().waitFor();
    return { device, page, faults };
  }

  async function expectGood(page: Page, state: string): Promise<void> {
    await expectAccessible(page, state);
    await expectFits(page);
  }

  async function expectGoodInBoth(page: Page, state: string): Promise<void> {
    await expectAccessibleInBoth(page, state);
    await expectFits(page);
  }

  /** What fits depends on the language; what a program can tell of a page does not. */
  async function expectFits(page: Page): Promise<void> {
    await expectReflow(page);
    await expectTargets(page, 44);
  }

  /** Through every state, each looked at as `expectGood` says. */
  async function walk(
    device: BrowserContext,
    page: Page,
    said: (text: { en: string; de: string }) => string,
    expectGood: (page: Page, state: string) => Promise<void>,
  ) {
    await expectGood(page, 'areas');
    await page.locator('.by-area > summary').click();
    await page.locator('.by-area .area-link').nth(4).click();
    await page.locator('#area').waitFor();
    await expectGood(page, 'area');
    const field = page.locator('#cell-pad_thickness_FL_in');
    await field.fill('55');
    await page.locator('.fault').first().waitFor();
    await expectGood(page, 'fault');
    await device.setOffline(true);
    await field.fill('3.3');
    await page.locator('.sync.offline').waitFor();
    await expectGood(page, 'offline');
    const own = site.t.api(barred);
    const address = `/v1/entries/${site.demo.barredEntryId}`;
    const form = await own.get(`${address}/form`).expect(200);
    const answers = Object.fromEntries(
      form.body.items.flatMap(({ key, saved }: { key: string; saved?: unknown }) =>
        saved === undefined ? [] : [[key, saved]],
      ),
    );
    const other = answers['pad.thickness']['FL.in'] === 3.4 ? 3.6 : 3.4;
    answers['pad.thickness']['FL.in'] = other;
    const etag = String(form.headers['etag']);
    await own.put(`${address}/declaration`).set('if-match', etag).send({ answers }).expect(200);
    await device.setOffline(false);
    await page.locator('#conflicts').waitFor();
    await expectGood(page, 'conflict');
    await page.getByRole('button', { name: said({ en: 'There: ', de: 'Dort: ' }) }).click();
    await page.locator('.sync.saved').waitFor();
    await page.locator('.head button').click();
    await page.locator('#verdict').waitFor();
    // what keeps the car off, what to order, and the same work once: the calipers, then all of the brakes bled
    await page
      .getByRole('heading', { name: said({ en: 'Order or book this first', de: 'Das zuerst bestellen' }) })
      .waitFor();
    const steps = await page.locator('.step h4').allTextContents();
    expect(steps.filter((step) => /Front wheels off|Vorderräder ab/.test(step))).toHaveLength(1);
    expect(steps.at(-1)).toMatch(/last of all|ganz zuletzt/);
    const calendar = page.waitForEvent('download');
    await page.getByRole('button', { name: said({ en: 'Put the dates into my', de: 'Termine in meinen' }) }).click();
    expect((await calendar).suggestedFilename()).toMatch(/^(car|auto)-12\.ics$/);
    await page.locator('.fix summary').first().click();
    await page
      .getByRole('button', { name: said({ en: 'Why?', de: 'Warum?' }) })
      .first()
      .click();
    await page.locator('.explanation .notice').first().waitFor();
    await expectGood(page, 'verdict');
  }

  test.each([
    ['light', 'en', 'accessible in both'],
    ['dark', 'de', 'each fits'],
  ] as const)(
    '%s, %s, 320 px: areas, area, fault, offline, conflict, verdict; %s',
    { timeout: 120_000 },
    async (theme, language, looked) => {
      const { device, page, faults } = await open(barred.token, '', { theme, language, viewport: SMALLEST });
      expect(await page.getAttribute('html', 'lang')).toBe(language);
      await walk(device, page, (text) => text[language], looked === 'each fits' ? expectFits : expectGoodInBoth);
      expect(faults).toEqual([]);
      await device.close();
    },
  );

  test.each([
    ['light', ['engine', 'brake-hydraulics', 'body-safety', 'papers']],
    ['dark', ['cooling', 'suspension-steering', 'driveline', 'setup']],
  ] as const)('on a desk, %s: the areas with every kind of answer', { timeout: 120_000 }, async (theme, areas) => {
    const { device, page } = await open(barred.token, '', { theme, viewport: DESKTOP });
    for (const area of areas) {
      await page.goto(`/garage?area=${area}`);
      await page.locator('#area').waitFor();
      await expectGood(page, `${area} ${theme}`);
    }
    await device.close();
  });

  test('a whole area by keyboard alone', async () => {
    const { device, page } = await open(barred.token, '', { viewport: DESKTOP });
    const press = async (key: string, until: () => Promise<boolean>) => {
      for (let count = 0; count < 400; count += 1) {
        if (await until()) return;
        await page.keyboard.press(key);
      }
      throw new Error(`${key} never got there`);
    };
    const focused = (selector: string) => () =>
      page.evaluate((wanted) => document.activeElement?.matches(wanted) ?? false, selector);
    await press('Tab', focused('.by-area > summary'));
    await page.keyboard.press('Enter');
    await press('Tab', focused('.by-area li:nth-child(3) .area-link'));
    await page.keyboard.press('Enter');
    await page.locator('#area').waitFor();
    await press('Tab', focused('#cell-brake_pedal input'));
    await press('ArrowDown', focused('#cell-brake_pedal label:first-child input'));
    await press('Tab', focused('#cell-brake_lines'));
    await page.keyboard.press('Space');
    await page.keyboard.press('Space');
    // what only advice reads, or a fluid of this class has in any case, is folded away
    await press('Tab', focused('.more > summary'));
    await page.keyboard.press('Enter');
    await press('Tab', focused('#cell-brake-fluid_wet-boiling-point'));
    await page.keyboard.press('Control+A');
    await page.keyboard.type('188');
    await press('Tab', focused('main .row.spread button.primary'));
    await page.locator('.sync.saved').waitFor();
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { level: 2, name: 'Wheels and tyres' }).waitFor();
    const { body } = await site.t.api(barred).get(`/v1/entries/${site.demo.barredEntryId}/form`);
    const saved = (key: string) => body.items.find((one: { key: string }) => one.key === key).saved;
    expect(saved('brake-fluid.wet-boiling-point')).toBe(188);
    expect(saved('brake.pedal')).toBe('firm');
    expect(saved('brake.lines')).toBe(true);
    await device.close();
  });

  test('the last event of the car is offered, and never taken by itself', async () => {
    const api = site.t.api('organizer');
    const before = (await api.get(`/v1/entries/${site.demo.barredEntryId}`).expect(200)).body;
    const now = (await api.get(`/v1/events/${site.demo.eventId}`).expect(200)).body;
    const group = (await api.get(`/v1/events/${before.eventId}/run-groups/${before.runGroupId}`).expect(200)).body;
    const day = (offset: number) => new Date(Date.parse(now.endsOn) + offset * 86_400_000).toISOString().slice(0, 10);
    const next = await api.post('/v1/events').send({
      name: 'Alder Ridge autumn day',
      venueId: now.venueId,
      startsOn: day(9),
      endsOn: day(9),
      declarationsOpenAt: now.declarationsOpenAt,
      declarationsCloseAt: `${day(8)}T12:00:00Z`,
    });
    const { name, order, ruleSetId, ruleSetVersion, parameters } = group;
    const session = { name, order, ruleSetId, ruleSetVersion, parameters, firstSessionAt: `${day(9)}T07:00:00Z` };
    const { runGroupId } = (await api.post(`/v1/events/${next.body.eventId}/run-groups`).send(session).expect(201))
      .body;
    const entered = await api
      .post(`/v1/events/${next.body.eventId}/entries`)
      .send({ carNumber: '12', runGroupId, entrant: { name: 'Petra Osgood' }, vehicleId: before.vehicleId })
      .expect(201);
    const { entryId } = entered.body;
    const token = await site.t.mint('entrant', { holder: 'Petra Osgood', entryId });
    const { device, page } = await open(token.token, '', { viewport: SMALLEST });
    await expectGood(page, 'earlier');
    const form = async () => (await site.t.api(token).get(`/v1/entries/${entryId}/form`)).body;
    expect((await form()).items.every((one: object) => !('saved' in one))).toBe(true);
    await page.getByRole('button', { name: /Take over \d+ answers that rarely change/ }).click();
    await page.locator('.sync.saved').waitFor();
    const taken = (await form()).items.filter((one: object) => 'saved' in one).map((one: { key: string }) => one.key);
    expect(taken).toContain('brake-fluid.class');
    expect(taken).not.toContain('pad.thickness');
    expect(taken).not.toContain('declaration.true-and-complete');
    await page.locator('.by-area > summary').click();
    await page.getByRole('button', { name: /Brake fluid and pedal/ }).click();
    await page.getByText('Last time: Spongy').waitFor();
    expect(await page.locator('#cell-brake_pedal input:checked').count()).toBe(0);
    await device.close();
  });

  test('an entrant stops his own car, also without a network; once it is told it stands until the staff lifts it', async () => {
    const { device, page, faults } = await open(barred.token, '', { viewport: SMALLEST });
    await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
    await device.setOffline(true);
    await page.getByRole('button', { name: 'Something happened? Stop this car' }).click();
    await expectGood(page, 'why the car is stopped');
    await page.getByRole('button', { name: 'I hit something' }).click();
    await page.getByRole('heading', { name: 'Not yet told the others' }).waitFor();
    await expectGood(page, 'stopped, and nobody knows');
    await page.reload();
    await page.getByText('Car 12 is stopped: I hit something (says the entrant)').waitFor();
    await device.setOffline(false);
    await page.getByRole('heading', { name: 'You stopped this car' }).waitFor();
    await page.getByText('Bent wheel', { exact: true }).waitFor();
    expect(await page.locator('.untold').count()).toBe(0);
    await expectGood(page, 'stopped');
    const { body } = await site.t.api('chief').get(`/v1/entries/${site.demo.barredEntryId}`).expect(200);
    expect(body.holds).toMatchObject([
      { byEntrant: true, kind: 'contact', reason: 'I hit something (says the entrant)' },
    ]);
    expect(faults).toEqual([]);
    await device.close();
  });

  test('closed declarations are read, not changed', async () => {
    const api = site.t.api('organizer');
    const now = await api.get(`/v1/events/${site.demo.eventId}`).expect(200);
    const closed = new Date(Date.now() - 60_000).toISOString();
    await api
      .patch(`/v1/events/${site.demo.eventId}`)
      .set('if-match', String(now.headers['etag']))
      .send({ declarationsCloseAt: closed })
      .expect(200);
    const { device, page } = await open(barred.token, '?area=brake-hardware', {});
    await page.getByText(/Declarations closed/).waitFor();
    // what happens after a session is written down on the event's days, when declarations are closed
    expect(await page.locator('main input:enabled:not(#log *)').count()).toBe(0);
    await expectGood(page, 'closed');
    await page.getByRole('button', { name: 'All areas' }).click();
    await page.getByRole('button', { name: 'Check and send' }).click();
    await page.getByText('Nothing can be submitted now.').waitFor();
    await device.close();
  });
});
