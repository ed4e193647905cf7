import type { BrowserContext, Page } from 'playwright-core';
import type { TestToken } from '../support/app.ts';
import { describe, expect, test } from 'vitest';
import {
  expectAccessible,
  expectReflow,
  expectTargets,
  hasChromium,
  openDevice,
  watchPage,
} from './support/browser.ts';
import { browser, site, useSite } from './support/site.ts';

describe.skipIf(!hasChromium())("the entrant's page", () => {
  useSite();

  const entryId = () => site.demo.walkEntryId;
  const readForm = async () => {
    const { body, headers } = await site.t.api(walker()).get(`/v1/entries/${entryId()}/form`).expect(200);
    const pads = body.items.find((one: { key: string }) => one.key === 'pad.thickness').saved;
    return { etag: String(headers['etag']), answers: savedOf(body), pads };
  };
  const walker = (): TestToken => ({
    tokenId: '',
    token: site.demo.tokens.entrant,
    role: 'entrant',
    holder: 'Ines Haldorsen',
  });
  const savedOf = (body: { items: { key: string; saved?: unknown }[] }): Record<string, unknown> =>
    Object.fromEntries(body.items.flatMap(({ key, saved }) => (saved === undefined ? [] : [[key, saved]])));
  const status = (page: Page) => page.locator('.status-bar');
  const saved = (page: Page) => status(page).getByText('Saved', { exact: true }).waitFor();
  const frontLeft = (page: Page) => page.getByLabel('Front left, Inner pad, mm');

  async function open(path = ''): Promise<{ device: BrowserContext; page: Page; faults: string[] }> {
    const device = await openDevice(browser, { url: site.url });
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage${path}#${site.demo.tokens.entrant}`);
    await page.locator('main h2').first().waitFor();
    return { device, page, faults };
  }

  test('from the link to the verdict: what is typed is judged at once, in the units he reads', async () => {
    const { device, page, faults } = await open();
    expect(page.url()).toBe(`${site.url}/garage`);
    expect(await page.evaluate(() => history.length)).toBeLessThanOrEqual(2);
    await page.locator('.car-number').getByText('21').waitFor();
    await page.getByText(/Declarations close/).waitFor();
    // only what applies: the coupé is neither open nor electric
    await page.getByText('All questions by area').click();
    expect(await page.locator('.areas').last().textContent()).not.toContain('Electric');
    await page.getByRole('button', { name: /Pads, linings, rotors and drums/ }).click();
    expect(await page.evaluate(() => document.activeElement?.id)).toBe('area');
    await frontLeft(page).fill('3');
    await page.getByText('1 mm outside the limit').first().waitFor();
    await status(page).getByText('So far: not on track').waitFor();
    await frontLeft(page).fill('8');
    await status(page).getByText('So far: the line will look closer').waitFor();
    await page.getByText('4 mm to spare').first().waitFor();
    await saved(page);
    expect((await readForm()).pads['FL.in']).toBe(8);
    // the limit of his group in the unit he chooses: 4 mm is judged as 5/32 in is
    await page.getByText('Units').click();
    await page.getByLabel('Small lengths').selectOption('1/32in');
    await page.getByText('5/32 in or more').first().waitFor();
    const typed = page.getByLabel('Front left, Inner pad, /32 in');
    expect(await typed.inputValue()).toBe('10.1');
    await typed.fill('5');
    await saved(page);
    expect((await readForm()).pads['FL.in']).toEqual({ value: 5, unit: '1/32in' });
    // on the limit a gauge may read either way: the line measures
    await page
      .getByText(/Too close to call/)
      .first()
      .waitFor();
    await page.reload();
    await typed.waitFor();
    expect(await typed.inputValue()).toBe('5');
    expect(faults).toEqual([]);
    await device.close();
  });

  test('without a network: typed answers stay, over a reload, and are sent when it is back', async () => {
    const { device, page } = await open('?area=brake-hardware');
    await frontLeft(page).fill('7.1');
    await saved(page);
    await page.evaluate(async () => (await navigator.serviceWorker.ready).scope);
    await device.setOffline(true);
    await frontLeft(page).fill('6.2');
    await page.getByLabel('Front right, Inner pad, mm').fill('6,3');
    await status(page).getByText('Offline. Not yet sent: 2 answers.').waitFor();
    expect((await readForm()).pads['FL.in']).toBe(7.1);
    await page.reload();
    await status(page).getByText('Offline. Not yet sent: 2 answers.').waitFor();
    expect(await frontLeft(page).inputValue()).toBe('6.2');
    await device.setOffline(false);
    await saved(page);
    expect((await readForm()).pads).toMatchObject({ 'FL.in': 6.2, 'FR.in': 6.3 });
    await device.close();
  });

  test('two devices: what both changed is shown with both values, what one changed is taken over', async () => {
    const { device, page } = await open('?area=brake-hardware');
    await frontLeft(page).fill('9');
    await saved(page);
    await device.setOffline(true);
    await frontLeft(page).fill('5.5');
    await status(page).getByText('Offline. Not yet sent: 1 answer.').waitFor();
    const { etag, answers, pads } = await readForm();
    await site.t
      .api(walker())
      .put(`/v1/entries/${entryId()}/declaration`)
      .set('if-match', etag)
      .send({ answers: { ...answers, 'pad.thickness': { ...pads, 'FL.in': 4.5, 'RR.in': 7.7 } } })
      .expect(200);
    await device.setOffline(false);
    await page.getByRole('heading', { name: 'One answer differs from another device' }).waitFor();
    await page.getByText(/Taken over from another device/).waitFor();
    expect(await page.getByLabel('Rear right, Inner pad, mm').inputValue()).toBe('7.7');
    expect((await readForm()).pads['FL.in']).toBe(4.5);
    // undecided, it stays undecided
    await page.reload();
    await page.getByRole('button', { name: 'There: 4.5 mm' }).waitFor();
    await page.getByRole('button', { name: 'Here: 5.5 mm' }).click();
    await saved(page);
    expect((await readForm()).pads).toMatchObject({ 'FL.in': 5.5, 'RR.in': 7.7 });
    await device.close();
  });

  test('not sure, does not apply, and an odd number: each is said, kept, and changed again', async () => {
    const { device, page, faults } = await open('?area=driveline');
    const saidOf = async (key: string) => (await readForm()).answers[key];
    const fluid = page.getByRole('group', { name: 'Gearbox fluid last changed on', exact: true });
    // only advice reads it: it is folded away, and still taken
    const more = page.getByText('More details (optional)');
    await more.click();
    await fluid.getByText('Does not apply to my car').click();
    await fluid.getByRole('button', { name: /^Sealed for life/ }).click();
    await fluid.getByText('Does not apply: Sealed for life').waitFor();
    await saved(page);
    expect(await saidOf('gearbox-fluid.changed-on')).toEqual({ doesNotApply: 'sealed-for-life' });
    await page.reload();
    await more.click();
    await fluid.getByText('Does not apply: Sealed for life').waitFor();
    await fluid.getByRole('button', { name: /^Not sure/ }).click();
    await fluid.getByText('Not sure. The inspector looks at it.').waitFor();
    await expectAccessible(page, 'not sure');
    await expectReflow(page);
    await expectTargets(page, 44, 'main');
    await saved(page);
    expect(await saidOf('gearbox-fluid.changed-on')).toEqual({ notSure: true });
    await fluid.locator('input[type=date]').fill('2026-03-04');
    await saved(page);
    expect(await saidOf('gearbox-fluid.changed-on')).toBe('2026-03-04');

    await page.goto('/garage?area=brake-hardware');
    await frontLeft(page).fill('36');
    await page.getByText('36 mm is unusual. It is not sent yet.').waitFor();
    await page.getByText('Did you mean 3.6 mm?').waitFor();
    await page.getByRole('button', { name: 'Take 3.6 mm' }).click();
    await saved(page);
    expect((await readForm()).pads['FL.in']).toBe(3.6);
    await frontLeft(page).fill('36');
    await expectAccessible(page, 'an odd number');
    await expectReflow(page);
    await page.getByRole('button', { name: 'It is 36 mm, I looked again' }).click();
    await saved(page);
    expect((await readForm()).pads['FL.in']).toBe(36);
    await frontLeft(page).fill('9');
    await saved(page);
    expect(faults).toEqual([]);
    await device.close();
  });

  test('what cannot be is refused beside its field, listed with a link, and holds up nothing else', async () => {
    const { device, page } = await open('?area=brake-hardware');
    await frontLeft(page).fill('55');
    await page.getByText('This cannot be: give a value from 0 mm to 40 mm.').waitFor();
    expect(await frontLeft(page).getAttribute('aria-invalid')).toBe('true');
    await page.getByLabel('Front right, Outer pad, mm').fill('abc');
    await page.getByText('This is not a number.').first().waitFor();
    await page.getByLabel('Rear left, Inner pad, mm').fill('8.8');
    await status(page).getByText('Saved, but 2 answers need your correction').waitFor();
    expect((await readForm()).pads['RL.in']).toBe(8.8);
    await page.getByRole('link', { name: /Front left, Inner pad/ }).click();
    await expect
      .poll(() => page.evaluate(() => document.activeElement?.getAttribute('aria-label')))
      .toBe('Front left, Inner pad, mm');
    await page.getByRole('button', { name: 'All areas' }).click();
    await page.getByRole('button', { name: 'Check and send' }).click();
    await page.getByText('2 answers must be corrected first.').waitFor();
    await page.getByRole('link', { name: /Front left, Inner pad/ }).click();
    await frontLeft(page).fill('8');
    await page.getByLabel('Front right, Outer pad, mm').fill('8');
    await saved(page);
    await device.close();
  });

  test('a photo is made small, sent once, shown and removed', async () => {
    const { device, page } = await open('?area=brake-hardware');
    const picture = await page.screenshot({ type: 'png' });
    await page.getByLabel('Add a photo Friction material thickness').setInputFiles({
      name: 'pad.png',
      mimeType: 'image/png',
      buffer: picture,
    });
    await page.getByRole('img', { name: 'Friction material thickness, photo 1' }).waitFor();
    const { photos } = (await site.t.api(walker()).get(`/v1/entries/${entryId()}/photos`).expect(200)).body;
    expect(photos).toMatchObject([{ item: 'pad.thickness', mediaType: 'image/jpeg' }]);
    expect(photos[0].bytes).toBeLessThan(300_000);
    await page.getByRole('button', { name: /Remove photo Friction/ }).click();
    await page.getByRole('img', { name: 'Friction material thickness, photo 1' }).waitFor({ state: 'detached' });
    await device.close();
  });

  test('submitting counts once though the answer was lost, and the sheet has what the line needs', async () => {
    const { device, page, faults } = await open();
    let lost = 0;
    await page.route('**/inspections', async (route) => {
      if (route.request().method() !== 'POST' || lost > 0) return route.continue();
      lost += 1;
      // the server has it; the answer is what gets lost
      await route.fetch();
      return route.abort('connectionreset');
    });
    await page.getByRole('button', { name: 'Check and send' }).click();
    await page.getByRole('button', { name: 'Submit', exact: true }).click();
    await page.getByRole('heading', { name: 'Submit the declaration?' }).waitFor();
    await page.getByRole('button', { name: 'Submit now' }).click();
    await page.getByText('Not yet submitted', { exact: true }).waitFor();
    await page.reload();
    await page.getByRole('heading', { name: 'To the line: some points are looked at' }).waitFor();
    expect(lost).toBe(1);
    const { inspections } = (await site.t.api(walker()).get(`/v1/entries/${entryId()}/inspections`)).body;
    expect(inspections).toHaveLength(1);
    await page.getByText(/Place \d+ on the line|next on the line/).waitFor();
    await page.getByText('Waiting for the line.').waitFor();
    await page.getByText('Why, and by how much').first().click();
    await page.getByRole('button', { name: /Why\?/ }).first().click();
    await page.getByText(/Basis: common practice|Source:/).waitFor();
    await page.emulateMedia({ media: 'print' });
    const sheet = page.locator('.sheet');
    expect(await sheet.isVisible()).toBe(true);
    expect(await page.locator('.status-bar').isVisible()).toBe(false);
    const printed = await sheet.innerText();
    for (const said of [
      '21',
      'Novice',
      inspections[0].rulesHash.slice(0, 12),
      inspections[0].inspectionId,
      'Bring to the line',
    ]) {
      expect(printed).toContain(said);
    }
    expect(printed).toContain('never guarantees a safe car');
    expect((await page.pdf({ preferCSSPageSize: true })).byteLength).toBeGreaterThan(5000);
    await page.emulateMedia({ media: 'screen' });
    // back to the answers: what a new submission does is said before
    await page.getByRole('button', { name: 'Change answers' }).click();
    await page.getByRole('button', { name: 'Check and send' }).click();
    await page.getByRole('button', { name: 'Submit', exact: true }).click();
    await page.getByText(/takes the place of submission 1.*loses its place/).waitFor();
    await page.getByRole('button', { name: 'Cancel' }).click();
    expect(faults).toEqual([]);
    await device.close();
  });
});
