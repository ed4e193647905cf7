import type { Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import { findItem } from '../../src/domain/catalogue/catalogue.ts';
import {
  DESKTOP,
  expectAccessible,
  expectAccessibleInBoth,
  expectReflow,
  expectTargets,
  hasChromium,
  SMALLEST,
} from './support/browser.ts';
import { askGate, countSignOffs, markFirst, openLine, takeCar, worksheetsOnDisk } from './support/line.ts';
import { browser, site, useSite } from './support/site.ts';

/** WCAG 2.2 AA, nothing sideways at 320 px, and what gloves hit (MIL-STD-1472 asks 19 mm; 64 CSS px here). */
async function expectGood(page: Page, state: string): Promise<void> {
  await expectAccessible(page, state);
  await expectReflow(page);
  await expectTargets(page, 64, 'main');
}

/** The same, with its colours in the other display too. */
async function expectGoodInBoth(page: Page, state: string): Promise<void> {
  await expectAccessibleInBoth(page, state);
  await expectReflow(page);
  await expectTargets(page, 64, 'main');
}

const button = (page: Page, name: string) => page.getByRole('button', { name, exact: true });

/** Presses Tab until the focus is on a control of this name. */
async function tabTo(page: Page, name: RegExp): Promise<void> {
  for (let presses = 0; presses < 150; presses += 1) {
    await page.keyboard.press('Tab');
    const focused = await page.evaluate(() => {
      const { activeElement: at } = document;
      const labels = at instanceof HTMLInputElement || at instanceof HTMLTextAreaElement ? [...(at.labels ?? [])] : [];
      const texts = [at?.getAttribute('aria-label'), ...labels.map((label) => label.textContent), at?.textContent];
      return texts.find((text) => typeof text === 'string' && text.trim() !== '') ?? '';
    });
    if (name.test(focused)) return;
  }
  throw new Error(`nothing called ${name} can be reached with Tab`);
}

const PAD = 'Friction material thickness, Front left, inner pad';
const LINES = findItem('brake.lines')?.label ?? '';

describe.skipIf(!hasChromium())('the tech line', () => {
  useSite();

  test('from the next car to what the gate says: points, a measurement, a condition', async () => {
    const { device, page, faults } = await openLine(browser, site);
    expect(new URL(page.url()).hash).toBe('');
    await page.getByText('· live').waitFor();
    // An accept of a car that needs a measurement: the server refuses, and the page goes to the point.
    await takeCar(page, '62');
    await page.getByText('Jarek Nowicki').waitFor();
    await markFirst(page);
    await page.getByLabel('Sticker number').fill('A-62');
    await page.getByText('Needs a measured value').first().waitFor();
    await page.getByText(/^Looked at: (\d+) of \1 on every car/).waitFor();
    await button(page, 'Accept').click();
    await button(page, 'Sign off').click();
    await page.getByText('The server did not take it. Nothing is decided.').waitFor();
    const point = page
      .locator('.place-row')
      .and(page.getByRole('group', { name: 'Measured boiling point of the brake fluid' }));
    await expect.poll(() => point.evaluate((element) => element === document.activeElement)).toBe(true);
    expect(await countSignOffs(site, '62')).toBe(0);
    // Nothing was declared: the first step is the lowest possible value; typing is quicker.
    await point.getByRole('button', { name: /more/ }).click();
    expect(await point.getByRole('textbox').first().inputValue()).toBe('60');
    await point.getByRole('textbox').first().fill('999');
    await point.getByText('must be from 60 to 400 °C').waitFor();
    await point.getByRole('textbox').first().fill('246');
    await page.getByText(/^All \d+ \+ \d+ looked at$/).waitFor();
    await button(page, 'Add').click();
    // A time by its kind; to go without one takes a choice.
    expect(await page.getByLabel('By when').inputValue()).toBe('session-after');
    await button(page, 'With conditions').click();
    await button(page, 'Sign off').click();
    await page.getByRole('heading', { name: 'Car 62 is accepted with conditions' }).waitFor();
    const said = await askGate(site, '62');
    expect(said).toMatchObject({ admit: true, status: 'clear-with-conditions' });
    expect(said.reason).toContain('Wheel torque again after the next session');
    await page
      .getByText(/on condition: .*Wheel torque again after the next session/)
      .first()
      .waitFor();
    await expectAccessibleInBoth(page, 'accepted with conditions');
    await button(page, 'To the line').click();
    // The inspector asked for what the group asks of every car: it stands once. Done, the gate says so, and the car leaves the list.
    await button(page, 'Conditions').click();
    const done = page.getByRole('button', { name: /^Done for car 62/ });
    await expect.poll(() => done.count()).toBe(1);
    await expectAccessibleInBoth(page, 'open conditions');
    await expectTargets(page, 64, 'main');
    await done.click();
    await done.waitFor({ state: 'detached' });
    expect((await askGate(site, '62')).status).toBe('clear');
    expect(faults).toEqual([]);
    await device.close();
  });

  test('a roll of stickers counts up on this device: damaged ones are left out, taken ones passed', async () => {
    const { device, page, faults } = await openLine(browser, site);
    const sticker = page.getByLabel('Sticker number');
    const setRoll = async (summary: string, from: string) => {
      await page.getByText(summary, { exact: true }).click();
      await page.getByLabel('First number of the roll, as printed').fill(from);
      await button(page, 'Count from here').click();
    };
    await takeCar(page, '42');
    await setRoll('Stickers on a roll: count up', 'A-');
    await page.getByText('A roll needs a number that can count up').waitFor();
    await page.getByLabel('First number of the roll, as printed').fill('A-061');
    await button(page, 'Count from here').click();
    expect(await sticker.inputValue()).toBe('A-061');
    await button(page, 'A-061 is damaged: skip').click();
    expect(await sticker.inputValue()).toBe('A-062');
    // Another one by hand, and back to the roll.
    await sticker.fill('X-1');
    await expect.poll(() => worksheetsOnDisk(page)).toContain('"sticker":"X-1"');
    await button(page, 'Take A-062 from the roll').click();
    // It is the device's, not the car's: so it is after a reload, and for the next car.
    await expect.poll(() => worksheetsOnDisk(page)).not.toContain('"sticker":"X-1"');
    await page.reload();
    await expect.poll(() => sticker.inputValue()).toBe('A-062');
    await expectGood(page, 'a roll');
    // The number is on car 62 already.
    await setRoll('A new roll', 'A-62');
    await markFirst(page);
    await button(page, 'Accept').click();
    await button(page, 'Sign off').click();
    await page.getByText('This sticker number is on another car of this event.').waitFor();
    expect(await sticker.inputValue()).toBe('A-63');
    expect(await countSignOffs(site, '42')).toBe(0);
    await button(page, 'Put back').click();
    await takeCar(page, '07');
    expect(await sticker.inputValue()).toBe('A-63');
    await button(page, 'Put back').click();
    expect(faults).toEqual([]);
    await device.close();
  });

  test('a refusal needs a reason, at the field; all of it with the keyboard', async () => {
    const { device, page, faults } = await openLine(browser, site);
    await page.getByLabel('Car number').focus();
    await page.keyboard.type('18');
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: 'Car 18', exact: true }).waitFor();
    // The focus is on the car that was taken.
    await expect.poll(() => page.evaluate(() => document.activeElement?.tagName)).toBe('H2');
    await tabTo(page, /^✗ Not OK$/);
    await page.keyboard.press('Space');
    expect(await page.locator('.mark[aria-pressed="true"]').count()).toBe(1);
    await tabTo(page, /^✗ Refuse$/);
    await page.keyboard.press('Enter');
    const note = page.getByLabel('Note; the driver reads it');
    await expect.poll(() => note.evaluate((element) => element === document.activeElement)).toBe(true);
    expect(await note.getAttribute('aria-invalid')).toBe('true');
    await page.keyboard.type('The isolation report is missing.');
    await tabTo(page, /^✗ Refuse$/);
    await page.keyboard.press('Enter');
    await page.getByRole('dialog', { name: 'Refuse car 18?' }).waitFor();
    await tabTo(page, /^Sign off$/);
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: 'Car 18 is refused' }).waitFor();
    expect(await askGate(site, '18')).toMatchObject({ admit: false, status: 'refused' });
    expect(faults).toEqual([]);
    await device.close();
  });

  test('every state, in light and dark: accessible, for gloves, at 320 px', async () => {
    const { device, page, faults } = await openLine(browser, site, { viewport: SMALLEST });
    await expectGoodInBoth(page, 'list');
    await takeCar(page, '42');
    await expectGoodInBoth(page, 'car');
    // An area with four corners, two pads each.
    await page.getByText('Brakes', { exact: true }).click();
    await page.getByText('Place by place').first().click();
    await page.getByRole('group', { name: 'Friction material thickness, Rear right, inner pad' }).waitFor();
    await expectGoodInBoth(page, 'four corners');
    await button(page, 'Accept').click();
    await page.getByText('Not sent. This is missing').waitFor();
    await expectGoodInBoth(page, 'missing');
    await page.getByLabel('Sticker number').fill('T-42');
    await button(page, 'Accept').click();
    await button(page, 'Sign off').waitFor();
    await expectGoodInBoth(page, 'confirm');
    await button(page, 'Sign off').click();
    await page.getByText('The server did not take it. Nothing is decided.').waitFor();
    await expectGoodInBoth(page, 'refused');
    await button(page, 'History').click();
    await page.getByText('Declaration submitted').waitFor();
    await expectGoodInBoth(page, 'history');
    await page.keyboard.press('Escape');
    await page.setViewportSize(DESKTOP);
    // The bar of decisions lies over what is scrolled below it; at the end it stands in its place.
    await page.evaluate(() => scrollTo(0, document.documentElement.scrollHeight));
    await expectGoodInBoth(page, 'desktop');
    // What was entered goes on when the car is taken again.
    await button(page, 'Put back').click();
    await takeCar(page, '42');
    expect(await page.getByLabel('Sticker number').inputValue()).toBe('T-42');
    await page.getByLabel('Sticker number').fill('');
    await button(page, 'Put back').click();
    await button(page, 'Hold').click();
    await expectGoodInBoth(page, 'hold');
    await button(page, 'Conditions').click();
    await button(page, 'Hold').click();
    expect(faults).toEqual([]);
    await device.close();
  });

  test('in German, and for a marshal not at all', async () => {
    const { device, page } = await openLine(browser, site, { language: 'de' });
    expect(await page.getAttribute('html', 'lang')).toBe('de');
    await button(page, 'Nächstes Auto').click();
    await page.getByRole('heading', { name: 'Zuerst hier hinsehen' }).waitFor();
    // what the rules ask stands beside what is looked at
    await page.getByText('Es steht hoch und hart.').first().waitFor();
    await expectGood(page, 'German');
    // A text without a translation would show its key.
    const keys = await page.getByText(/\b(points|decide|car|mark|area)\.[a-z]/).count();
    expect(keys).toBe(0);
    await button(page, 'Zurückstellen').click();
    await button(page, 'Nächstes Auto').waitFor();
    await device.close();
    const marshal = await browser.newContext({ baseURL: site.url });
    const other = await marshal.newPage();
    await other.goto(`/line#${site.demo.tokens.marshal}`);
    await other.getByText('Cars are signed off by inspectors').waitFor();
    await marshal.close();
  });

  test('a hold on any car, with a reason', async () => {
    const { device, page, faults } = await openLine(browser, site);
    await button(page, 'Hold').click();
    await page.getByLabel('Car number').fill('008');
    await button(page, 'Find').click();
    await page.getByText('No car 008 at this event').waitFor();
    await page.getByLabel('Car number').fill('7');
    await button(page, 'Find').click();
    await button(page, 'Hold car 7').click();
    await page.getByText('A hold needs a reason.').waitFor();
    await page.getByLabel('Reason; marshal and driver read it').fill('Leaks');
    await button(page, 'Hold car 7').click();
    await page.getByText('The hold stands.').waitFor();
    expect(await askGate(site, '7')).toMatchObject({ admit: false, status: 'held', reason: 'Held: Leaks.' });
    expect(faults).toEqual([]);
    await device.close();
  });

  test('a hold says what to look at again: the lift asks for it, and names what is open', async () => {
    const chief = await openLine(browser, site, { token: site.demo.tokens.chief });
    const { page, faults } = chief;
    await button(page, 'Hold').click();
    await page.getByLabel('Car number').fill('21');
    await button(page, 'Find').click();
    await button(page, 'Contact').click();
    await button(page, 'Hold car 21').click();
    await page.getByText('Held: Contact.').waitFor();
    expect(await askGate(site, '21')).toMatchObject({ admit: false, status: 'held', reason: 'Held: Contact.' });
    // An inspector may not lift it, and is told who does.
    const other = await openLine(browser, site);
    await button(other.page, 'Hold').click();
    await other.page.getByLabel('Car number').fill('21');
    await button(other.page, 'Find').click();
    await other.page.getByText('The chief inspector or the organizer lifts it.').waitFor();
    expect(await button(other.page, 'Lift the hold').count()).toBe(0);
    await other.device.close();
    await button(page, 'Lift the hold').click();
    const form = page.getByRole('form', { name: 'Lift the hold' });
    await form.getByLabel('What was found, and why it may go again').fill('Straight');
    const points = form.getByRole('checkbox', { name: /^In order: / });
    const count = await points.count();
    expect(count).toBeGreaterThan(5);
    await form.getByRole('checkbox', { name: 'In order: Bent wheel' }).check();
    await form.getByLabel('What was found: Bent wheel').fill('0.3 mm');
    await button(page, 'Lift the hold').click();
    await page.getByText(/^Still open: .*leaks/).waitFor();
    await expectGood(page, 'a lift with open points');
    for (const point of await points.all()) await point.check();
    await button(page, 'Lift the hold').click();
    await page.getByText('Held: Contact.').waitFor({ state: 'detached' });
    const lifted = await site.t.deps.db.prisma.hold.findFirstOrThrow({
      where: { reason: 'Contact', entry: { carNumber: '21' } },
    });
    expect(lifted.liftChecks).toContainEqual({ item: 'wheel.bent', result: 'ok', note: '0.3 mm' });
    expect(lifted.liftChecks).toHaveLength(count);
    expect(faults).toEqual([]);
    await chief.device.close();
  });

  test('a refused car goes back to the line with one tap, and shows first what it was refused for', async () => {
    const { device, page, faults } = await openLine(browser, site);
    await page.getByLabel('Car number').fill('18');
    await page.getByRole('button', { name: 'Take', exact: true }).first().click();
    await page.getByRole('heading', { name: 'Put car 18 on the line again' }).waitFor();
    await expectGood(page, 'the way back');
    await button(page, 'Back to the line: What was wrong is mended').click();
    await page.getByText(/^Car 18 is on the line again, at place \d+\.$/).waitFor();
    expect(await askGate(site, '18')).toMatchObject({ admit: false });
    await page.getByRole('button', { name: 'Take car 18' }).first().click();
    await page.getByRole('heading', { name: 'Car 18', exact: true }).waitFor();
    await page.getByRole('heading', { name: 'This car was refused' }).waitFor();
    await page.getByText('The isolation report is missing.', { exact: true }).waitFor();
    await expectGood(page, 'a car that was refused before');
    // A chief takes it from him, for whom it is over.
    const chief = await openLine(browser, site, { token: site.demo.tokens.chief });
    await chief.page.getByRole('button', { name: 'Release car 18' }).click();
    await chief.page.getByRole('heading', { name: 'Mara Oyelaran has car 18' }).waitFor();
    await expectGood(chief.page, 'release');
    await button(chief.page, 'Take it from Mara Oyelaran').click();
    await chief.page.getByText('Car 18 is free again.').waitFor();
    expect(await page.getByRole('button', { name: 'Release car 18' }).count()).toBe(0);
    expect([...faults, ...chief.faults]).toEqual([]);
    await Promise.all([chief.device.close(), device.close()]);
  });

  test('what was done for another entry of the car says for which, by whom, and whether it counts here', async () => {
    const { eventId } = site.demo;
    const inGroup = (name: string) =>
      site.t.deps.db.prisma.entry.findFirstOrThrow({ where: { eventId, carNumber: '33', runGroup: { name } } });
    const [novice, advanced] = [await inGroup('Novice'), await inGroup('Advanced')];
    const first = await site.t.mint('inspector', { holder: 'Ines Varga' });
    await site.t
      .api(first)
      .post(`/v1/entries/${novice.id}/back-to-line`)
      .send({ reason: 'for both groups' })
      .expect(200);
    const claimed = await site.t
      .api(first)
      .post(`/v1/events/${eventId}/line/claims`)
      .send({ carNumber: '33', runGroupId: novice.runGroupId })
      .expect(201);
    // Thick enough for novices, and too thin for the advanced, whose pads are new by now as they say.
    const always: { item: string; position?: string; asked: string }[] = claimed.body.pointsToCheck;
    const checks = [
      { item: 'pad.thickness', position: 'FL.in', value: 5.4 },
      { item: 'brake.lines', result: 'ok' },
      ...always.flatMap(({ item, position, asked }) => (asked === 'always' ? [{ item, position, result: 'ok' }] : [])),
    ];
    await site.t
      .api(first)
      .post(`/v1/claims/${claimed.body.claimId}/sign-off`)
      .set('idempotency-key', 'done-for-33')
      .send({ decision: 'accept', stickerNumber: 'L-33', checks })
      .expect(201);
    const chief = await site.t.mint('chief', { holder: 'Jonas Aldergaard' });
    const { body } = await site.t.api(chief).get(`/v1/entries/${advanced.id}/inspections`).expect(200);
    const { answers } = body.inspections[0];
    const thick = Object.fromEntries(Object.keys(answers['pad.thickness']).map((position) => [position, 9]));
    await site.t
      .api(chief)
      .post(`/v1/entries/${advanced.id}/inspections`)
      .set('idempotency-key', 'declare-33')
      .send({ answers: { ...answers, 'pad.thickness': thick }, saidBy: 'Rana Karadeniz' })
      .expect(201);

    const { device, page, faults } = await openLine(browser, site);
    await takeCar(page, '33');
    for (const area of ['Brakes', 'Brake hydraulics']) await page.getByText(area, { exact: true }).first().click();
    // Those that a rule asks for are open.
    await page
      .locator('details:not([open]) > summary', { hasText: 'Place by place' })
      .evaluateAll((all) => all.forEach((one) => (one as HTMLElement).click()));
    const counts = page.getByRole('group', { name: LINES }).locator('[data-done]');
    expect(await counts.textContent()).toMatch(/^Done for Novice by Ines Varga, .*\d:\d\d.*\. It counts here too\.$/);
    const open = page.getByRole('group', { name: PAD }).locator('[data-done]');
    expect(await open.textContent()).toMatch(
      /^Looked at for Novice by Ines Varga, .*\. By the rules here it is open\.$/,
    );
    await expectGood(page, 'done for another entry');
    expect(faults).toEqual([]);
    await device.close();
  });

  test('an own car is told in words', async () => {
    const owner = await site.t.mint('inspector', { holder: 'Lio Marchetta' });
    const { device, page } = await openLine(browser, site, { token: owner.token });
    await page.getByLabel('Car number').fill('07');
    await page.getByRole('button', { name: 'Take', exact: true }).first().click();
    await page.getByText('This is your own car').waitFor();
    await device.close();
  });
});
