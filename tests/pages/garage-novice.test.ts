import type { AddressInfo } from 'node:net';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { BUILT_IN_RULE_SET, PROFILES } from '../../seed/built-in.ts';
import { carOf } from '../../seed/cars.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEntry, createTestEvent, type TestEvent } from '../support/event.ts';
import {
  expectAccessible,
  expectReflow,
  expectTargets,
  hasChromium,
  leaveBrowser,
  openDevice,
  PHONE,
  SMALLEST,
  startBrowser,
  watchPage,
} from './support/browser.ts';
import { type Count, heightOf, walkGoodCar } from './support/good-car.ts';

describe.skipIf(!hasChromium())("a novice's ordinary car, from an empty link to submitted", () => {
  let t: TestApp;
  let url: string;
  let event: TestEvent;
  let group: string;
  let browser: Browser;
  beforeAll(async () => {
    [t, browser] = await Promise.all([startTestApp(), startBrowser()]);
    url = `http://127.0.0.1:${(t.app.server.address() as AddressInfo).port}`;
    event = await createTestEvent(t, BUILT_IN_RULE_SET);
    const created = await t
      .api('organizer')
      .post(`/v1/events/${event.eventId}/run-groups`)
      .send({
        name: 'Novice, as built in',
        order: 3,
        firstSessionAt: '2026-06-13T08:00:00Z',
        ruleSetId: event.ruleSetId,
        ruleSetVersion: 1,
        parameters: PROFILES.novice,
      })
      .expect(201);
    group = created.body.runGroupId;
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await t.close();
  });

  /** A hatch with drums behind, entered as the office enters it, with nothing declared. */
  async function newCar(description?: string): Promise<{ entryId: string; token: string; startsOn: string }> {
    const vehicle = { ...carOf('drumHatch'), ...(description === undefined ? {} : { description }) };
    const entry = await createTestEntry(t, event, { runGroupId: group, vehicle });
    return { entryId: entry.entryId, token: entry.entrant.token, startsOn: '2026-06-13' };
  }

  test('takes at most 70 taps, 25 typed values and 27 screens, none of them higher than a phone', async () => {
    const { entryId, token, startsOn } = await newCar();
    const device = await openDevice(browser, { url, viewport: PHONE });
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage#${token}`);
    await page.locator('#walk').waitFor();
    const count: Count = { taps: 0, typed: 0, screens: ['start'], tallest: 0 };
    // nothing is said of a declaration that has not begun
    expect(await page.locator('.so-far').textContent()).toBe('');
    await expectAccessible(page, 'hub');
    await page
      .getByRole('button', { name: /Papers and gear/ })
      .first()
      .click();
    count.taps += 1;
    const heights: Record<string, number> = {};
    await walkGoodCar({
      page,
      count,
      startsOn,
      words: { goOn: /^Continue/, all: /(^|\s)(All \d+ are so|It is so|The other)/ },
      onScreen: async (name) => {
        heights[name] = await heightOf(page);
        await expectReflow(page);
      },
    });
    count.screens.push('check');
    await page.locator('#check').waitFor();
    await page.locator('.status-bar').getByText('Saved', { exact: true }).waitFor();
    await page.getByText('I declare').first().waitFor();
    await page.locator('#cell-declaration_true-and-complete').check();
    count.taps += 1;
    await page.locator('.status-bar').getByText('Saved', { exact: true }).waitFor();
    await expectAccessible(page, 'check');
    await expectTargets(page, 44, 'main');
    await page.getByRole('button', { name: 'Submit', exact: true }).click();
    await page.getByRole('button', { name: 'Submit now' }).click();
    count.taps += 2;
    await page.locator('#verdict').waitFor();
    process.stdout.write(
      `novice hatch with drums: ${count.taps} taps, ${count.typed} typed, ${count.screens.length} screens, tallest ${count.tallest} px\n${JSON.stringify(heights)}\n`,
    );
    const { inspections } = (await t.api('organizer').get(`/v1/entries/${entryId}/inspections`).expect(200)).body;
    const [{ verdict, findings, answers: sent }] = inspections;
    const bars = findings.filter((one: { counts: string }) => one.counts === 'bar');
    expect(bars.map((one: { ruleId: string }) => one.ruleId)).toEqual([]);
    expect(verdict).not.toBe('barred');
    // one value where one suffices, with what it rests on
    expect(sent['pad.thickness']).toEqual({ front: { basis: 'lowest-of-axle', value: 8 } });
    expect(sent['tyre.cords-visible']).toEqual({ basis: 'each-place', value: false });
    expect(sent['tyre.date-code']).toMatchObject({ basis: 'each-place' });
    expect(count.taps).toBeLessThanOrEqual(70);
    expect(count.typed).toBeLessThanOrEqual(25);
    expect(count.screens.length).toBeLessThanOrEqual(27);
    expect(count.tallest).toBeLessThanOrEqual(PHONE.height);
    expect(faults).toEqual([]);
    await device.close();
  });

  test('in German on the smallest phone, dark: one wheel that is not good, not sure, and by keyboard', async () => {
    // a name from right to left, an emoji, and a word without a place to break
    const description = 'سيارة السباق 🏎️ Hinterachsdifferentialgehaeusedeckeldichtungssatzsonderanfertigung';
    const { entryId, token } = await newCar(description);
    const device = await openDevice(browser, { url, viewport: SMALLEST, language: 'de', theme: 'dark' });
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage#${token}`);
    await page.getByText(description).waitFor();
    await expectReflow(page);
    await page.goto('/garage?screen=tyres');
    await page.locator('#screen').waitFor();
    const cords = page.locator('#item-tyre_cords-visible');
    await cords.focus();
    await page.keyboard.press('Enter');
    await page.getByRole('button', { name: 'Nicht in Ordnung' }).first().focus();
    await page.keyboard.press('Enter');
    await page.locator('#cell-tyre_cords-visible_RL .option').first().click();
    await page.getByRole('button', { name: 'Nicht sicher' }).last().click();
    await expectAccessible(page, 'a row that is open');
    await expectReflow(page);
    await expectTargets(page, 44, 'main');
    await page.locator('.sync.saved').waitFor();
    const { answers: saved } = (
      await t.api('organizer').get(`/v1/entries/${entryId}/form`).expect(200)
    ).body.items.reduce(
      (all: { answers: Record<string, unknown> }, { key, saved: said }: { key: string; saved?: unknown }) => ({
        answers: { ...all.answers, ...(said === undefined ? {} : { [key]: said }) },
      }),
      { answers: {} },
    );
    expect(Object.keys(saved)).toContain('tyre.cords-visible');
    expect(faults).toEqual([]);
    await device.close();
  });
});
