import type { AddressInfo } from 'node:net';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { tickingClock } from '../support/clock.ts';
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
import { askByKeyboard, untilReady } from './support/gate.ts';
import { fillCar, walkGoodCar } from './support/good-car.ts';
import { markFirst, measure, takeCar } from './support/line.ts';

/** Of the car that goes all the way. */
const CAR = '21';
const today = (): string => new Date().toLocaleDateString('sv-SE');
/** Where pictures go that a person wants to look at; nothing is drawn without. */
const PICTURES = process.env['PICTURES'];

describe.skipIf(!hasChromium())('from an empty server with nothing but pages', () => {
  let t: TestApp;
  let browser: Browser;
  let url: string;
  const devices: BrowserContext[] = [];
  const faults: string[] = [];

  beforeAll(async () => {
    [t, browser] = await Promise.all([startTestApp({ clock: tickingClock() }), startBrowser()]);
    url = `http://127.0.0.1:${(t.app.server.address() as AddressInfo).port}`;
  });
  afterAll(async () => {
    for (const device of devices) await device.close();
    await leaveBrowser(browser);
    await t.close();
  });

  async function openAt(address: string, viewport = DESKTOP): Promise<Page> {
    const device = await openDevice(browser, { url, viewport });
    devices.push(device);
    const page = await device.newPage();
    const seen = watchPage(page);
    page.on('close', () => faults.push(...seen));
    await page.goto(address);
    return page;
  }

  async function looked(page: Page, name: string): Promise<void> {
    await expectAccessible(page, name);
    await expectReflow(page);
    await expectTargets(page, 44);
    await picture(page, name);
  }

  async function picture(page: Page, name: string): Promise<void> {
    if (PICTURES !== undefined) await page.screenshot({ path: `${PICTURES}/${name}.png`, fullPage: true });
  }

  /** What the office hands out: links by page. */
  const links = new Map<string, string>();
  const cardOf = (page: Page, who: string) => page.locator('.sheet > li', { hasText: who });
  const step = (page: Page, name: string) => page.locator(`[data-step=${name}]`);
  const press = (page: Page, name: string | RegExp) => page.getByRole('button', { name, exact: true }).click();

  test('venue, event, rules, groups, people, entries and links, each saved and each with what is missing', async () => {
    const { token } = await t.mint('organizer', { holder: 'Office desk' });
    const page = await openAt(`/office#${token}`);
    await page.locator('[data-open=venue]').waitFor();
    await page.locator('[data-missing=no-venue]').waitFor();
    await looked(page, 'start-empty');

    await page.getByLabel('Name of the circuit').fill('Alder Ridge Circuit');
    await page.getByLabel('Time zone').fill('Europe/Berlin');
    await page.getByText('Speeds, braking zones, sound limit').click();
    await page.getByLabel('Highest speed, km/h').fill('224');
    for (const [place, from, to] of [
      [1, '212', '74'],
      [2, '60', '90'],
    ] as const) {
      await press(page, 'Add a braking zone');
      const zone = page.getByRole('group', { name: `Braking zone ${place}` });
      await zone.getByLabel('from, km/h').fill(from);
      await zone.getByLabel('down to, km/h').fill(to);
    }
    await page.locator('[data-odd=noBraking]').waitFor();
    await looked(page, 'start-venue');
    await page.getByRole('group', { name: 'Braking zone 2' }).getByLabel('from, km/h').fill('190,5');
    expect(await page.locator('[data-odd]').count()).toBe(0);
    await press(page, 'Save the venue');

    await page.getByLabel('Name of the event').first().fill('Club weekend');
    await page.getByLabel('First day').first().fill(today());
    await page.getByLabel('Last day').fill(today());
    await page.getByLabel('Declarations close').fill(`${today()}T23:00`);
    await looked(page, 'start-event');
    await press(page, 'Make the event');

    await page.locator('[data-open=rules]').waitFor();
    await page.getByLabel('Name of your rule set').fill('Our rules');
    await press(page, 'Adopt the built-in rules');
    await page.getByText('Our rules, version 1').waitFor({ timeout: 120_000 });
    await looked(page, 'start-rules');
    // Left and come back to: what was done is there.
    await page.goto('/office?section=start');
    await page.locator('[data-open=groups]').waitFor();
    for (const name of ['Novice', 'Intermediate']) {
      await expect.poll(() => page.getByLabel('Name of the group').inputValue()).toBe(name);
      await page.locator('summary', { hasText: 'What differs for' }).click();
      if (name === 'Novice') await looked(page, 'start-groups');
      await press(page, 'Make the group');
      await page.locator(`[data-group=${name}]`).waitFor();
    }
    await press(page, 'Delete the group Intermediate');
    await expect.poll(() => page.locator('[data-group=Intermediate]').count()).toBe(0);

    await page.getByRole('link', { name: 'Next: People' }).click();
    const person = (place: number) => page.getByRole('group', { name: `Person or device ${place}` });
    for (const [place, name] of ['Kaja Lind', 'Mara Oyelaran', 'Jon Aker', 'Gate phone'].entries()) {
      await person(place + 1)
        .locator('input')
        .fill(name);
    }
    await press(page, 'Make the pages');
    await expect.poll(() => page.locator('.sheet.pages svg.qr').count()).toBe(4);
    await looked(page, 'start-people');
    for (const [name, holder] of [
      ['line', 'Mara Oyelaran'],
      ['gate', 'Gate phone'],
    ] as const) {
      links.set(name, (await cardOf(page, holder).locator('code.key').textContent()) ?? '');
    }
    await expect.poll(() => step(page, 'people').getAttribute('data-state')).toBe('done');

    await page.getByRole('link', { name: 'Next: Entries' }).click();
    const entry = page.getByRole('form', { name: 'New entry' });
    await entry.getByLabel('Car number').fill('21');
    await entry.getByLabel('Entrant', { exact: true }).fill('Ines Haldorsen');
    await entry.getByLabel('Description of the car').fill('Club coupe 2.0');
    await entry.getByRole('button', { name: 'Enter the car' }).click();
    await expect.poll(() => step(page, 'entries').getAttribute('data-state')).toBe('done');
    await looked(page, 'start-entries');
    await page.getByRole('link', { name: 'Next: Links' }).click();
    await page.locator('[data-ready=false]').waitFor();
    await press(page, 'Make the links');
    await page.locator('[data-ready=true]').waitFor();
    const link = (await cardOf(page, `Car ${CAR}`).locator('code.key').textContent()) ?? '';
    links.set('garage', link);
    const garage = await openAt(link, PHONE);
    await garage.locator('.car-number').getByText('21').waitFor();

    // A copy is deleted, because nobody declared for it; the event itself is not, once somebody has.
    await step(page, 'event').getByRole('link').click();
    const copy = page.getByRole('form', { name: 'Like another event' });
    await copy.getByLabel('Name of the new event').fill('Next year');
    await copy.getByLabel('First day').fill('2027-06-12');
    await copy.getByRole('button', { name: 'Copy the event' }).click();
    await page.getByRole('heading', { name: 'Setting up Next year' }).waitFor();
    expect(await step(page, 'groups').getAttribute('data-state')).toBe('done');
    await step(page, 'event').getByRole('link').click();
    await press(page, 'Delete the event');
    await press(page, 'Delete the event');
    await expect.poll(() => page.locator('.chooser option').allTextContents()).toEqual(['New event', 'Club weekend']);

    const german = await openDevice(browser, { url, viewport: PHONE, language: 'de' });
    devices.push(german);
    const phone = await german.newPage();
    await phone.goto(`/office#${token}`);
    await phone.getByRole('link', { name: 'Einrichten' }).click();
    await phone.locator('[data-open]').waitFor();
    await looked(phone, 'start-phone-de');
    for (const device of devices) for (const one of device.pages()) await one.close();
    expect(faults).toEqual([]);
  });

  test('and on, by the links that were handed out: the declaration, the line, and green at the gate', async () => {
    const gate = await openAt(links.get('gate') ?? '', PHONE);
    await untilReady(gate);
    expect(await askByKeyboard(gate, CAR)).toMatchObject({ kind: 'stop', status: 'no-declaration' });

    const garage = await openAt(links.get('garage') ?? '', PHONE);
    await garage.locator('#walk').waitFor();
    await picture(garage, 'garage-empty');
    await fillCar(garage);
    await garage.locator('#walk').waitFor();
    await picture(garage, 'garage-car');
    await garage
      .getByRole('button', { name: /Papers and gear/ })
      .first()
      .click();
    await walkGoodCar({
      page: garage,
      count: { taps: 0, typed: 0, screens: [], tallest: 0 },
      startsOn: today(),
      words: { goOn: /^Continue/, all: /(^|\s)(All \d+ are so|It is so|The other)/ },
      onScreen: async () => undefined,
    });
    await picture(garage, 'garage-check');
    await garage.locator('#cell-declaration_true-and-complete').check();
    await garage.locator('.status-bar').getByText('Saved', { exact: true }).waitFor();
    await press(garage, 'Submit');
    await press(garage, 'Submit now');
    await garage.locator('#verdict').waitFor();
    await picture(garage, 'garage-verdict');
    await garage.getByText(/Place \d+ on the line|next on the line/).waitFor();

    const line = await openAt(links.get('line') ?? '', PHONE);
    await takeCar(line, CAR);
    await markFirst(line);
    // What only its owner said of the car is read at the car.
    await line
      .getByRole('button', { name: /^Go there/ })
      .first()
      .click();
    await measure(line, {
      'The least thickness stamped on the rotor': '19',
      'The torque of the wheel bolts': '110',
    });
    await line.getByLabel('Sticker number').fill('N-21');
    await press(line, 'Accept');
    await picture(line, 'line-accept');
    await press(line, 'Sign off');
    await line.getByRole('heading', { name: `Car ${CAR} is accepted` }).waitFor();

    await press(gate, 'Next car');
    const answer = await askByKeyboard(gate, CAR);
    expect(answer).toMatchObject({ source: 'server', kind: 'go' });
    await picture(gate, 'green-gate');
    for (const device of devices) for (const one of device.pages()) await one.close();
    expect(faults).toEqual([]);
  });
});
