import type { AddressInfo } from 'node:net';
import type { Browser, Page } from 'playwright-core';
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

/** What a person does with the phone, counted: a tap also where a field is entered first. */
interface Count {
  taps: number;
  typed: number;
  screens: string[];
  tallest: number;
}

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

  const heightOf = (page: Page): Promise<number> =>
    page.evaluate(() => {
      const button = document.querySelector('.go-on') ?? document.querySelector('#submit');
      return button === null ? 0 : Math.round(button.getBoundingClientRect().bottom + globalThis.scrollY);
    });

  interface Walk {
    page: Page;
    count: Count;
    startsOn: string;
    words: { goOn: RegExp; all: RegExp };
    onScreen(name: string): Promise<void>;
  }

  const daysBefore = (day: string, days: number): string =>
    new Date(Date.parse(`${day}T00:00:00Z`) - days * 86_400_000).toISOString().slice(0, 10);

  /** What is typed or chosen where one look is not enough, by the screen. */
  function answers({ page, count, startsOn }: Walk) {
    const tap = async (name: string): Promise<void> => {
      await page.locator(name).first().click();
      count.taps += 1;
    };
    // the first field of a screen is tapped; from there "next" of the keyboard goes on
    const type = async (...cells: readonly (readonly [cell: string, value: string])[]): Promise<void> => {
      count.taps += 1;
      for (const [cell, value] of cells) {
        await page.locator(`#${cell}`).fill(value);
        count.typed += 1;
      }
    };
    // a list opens with one tap and closes with another
    const choose = async (cell: string, value: string): Promise<void> => {
      await page.locator(`#${cell}`).selectOption(value);
      count.taps += 2;
    };
    const option = (cell: string, nth: number) => tap(`#${cell} .option >> nth=${nth}`);
    const at = (item: string, ...positions: string[]) => positions.map((one) => `cell-${item}_${one}`);
    return {
      'brake-fluid': async () => {
        await choose('cell-brake-fluid_class', 'DOT 4');
        await type(['cell-brake-fluid_flushed-on', daysBefore(startsOn, 60)]);
      },
      clutch: () => choose('cell-clutch-fluid_class', 'DOT 4'),
      clothing: () => option('cell-clothing', 1),
      gear: async () => {
        await choose('cell-helmet_standard', 'Snell SA2020');
        await type(['cell-helmet_made-on', daysBefore(startsOn, 700)]);
      },
      papers: () => type(['cell-pre-event-check_done-on', daysBefore(startsOn, 1)]),
      oil: () => type(['cell-oil_level_reading', '0.8'], ['cell-oil_level_minutes-since-shutdown', '7']),
      pedal: () => type(['cell-steering_free-play_play', '8']),
      tyres: () => option('cell-tyre_kind', 0),
      tread: () => type(...at('tyre_tread-lowest', 'FL', 'FR', 'RL', 'RR').map((cell) => [cell, '4.6'] as const)),
      'tyre-marks': async () => {
        await type(['cell-tyre_date-code_FL', `12${daysBefore(startsOn, 400).slice(2, 4)}`]);
        await tap('button:has-text("All four are")');
      },
      pressures: () => type(['cell-tyre_cold-pressure_front', '220'], ['cell-tyre_cold-pressure_rear', '230']),
      pads: () => type(['cell-pad_thickness_front', '8']),
      linings: () => type(['cell-lining_thickness_rear', '3.6']),
      rotors: () => type(['cell-rotor_thickness_front', '20.5']),
      torque: () => type(['cell-wheel_torque-setting', '110']),
      felt: () => tap('#cell-debrief_symptoms .option >> nth=-1'),
    } satisfies Record<string, () => Promise<void>>;
  }

  const screenOf = (page: Page): string => new URL(page.url()).searchParams.get('screen') ?? '';

  /** Answers a screen after the other as a good car is, until the check. */
  async function walk(of: Walk): Promise<void> {
    const { page, count, words } = of;
    const typed = answers(of) as Record<string, (() => Promise<void>) | undefined>;
    for (let index = 0; index < 40 && !new URL(page.url()).searchParams.has('check'); index += 1) {
      const screen = screenOf(page);
      await page.locator('#screen').waitFor();
      count.screens.push(screen);
      await typed[screen]?.();
      const all = page.getByRole('button', { name: words.all });
      if ((await all.count()) > 0) {
        await all.first().click();
        count.taps += 1;
      }
      await of.onScreen(screen);
      count.tallest = Math.max(count.tallest, await heightOf(page));
      await page.getByRole('button', { name: words.goOn }).click();
      count.taps += 1;
      await page.waitForFunction((before) => !location.search.includes(`screen=${before}`) || before === '', screen);
    }
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
    await walk({
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
