import { describe, expect, test } from 'vitest';
import {
  expectAccessible,
  expectReflow,
  expectTargets,
  hasChromium,
  openDevice,
  SMALLEST,
  watchPage,
} from './support/browser.ts';
import { makePhoto } from '../support/photos.ts';
import { browser, site, useSite } from './support/site.ts';

describe.skipIf(!hasChromium())('your car', () => {
  useSite();

  test('is filled in from the declaration and by its link, asks by what it has, and asks again about a slip', async () => {
    const { barredEntryId: entryId } = site.demo;
    const entrant = await site.t.mint('entrant', { holder: 'Petra Osgood', entryId });
    const { body: entry } = await site.t.api('organizer').get(`/v1/entries/${entryId}`).expect(200);
    const facts = async () => {
      const { body } = await site.t.api('organizer').get(`/v1/vehicles/${entry.vehicleId}/facts`).expect(200);
      const known = body.facts as { path: string; value: unknown; origin: string }[];
      return new Map(known.map((one) => [one.path, one]));
    };
    const phone = await openDevice(browser, { url: site.url, viewport: SMALLEST });
    const page = await phone.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage#${entrant.token}`);
    await page.getByRole('link', { name: 'Your car: what it is' }).click();
    await page.locator('.car-section').first().waitFor();

    // An answer that comes back late takes nothing away of what is typed meanwhile.
    let answer = (): void => undefined;
    const late = new Promise<void>((resolve) => (answer = resolve));
    await page.route('**/facts', async (route) => {
      await late;
      await route.continue();
    });
    await page.getByLabel('Driven wheels').selectOption('all');
    await page.getByLabel('Mass with driver').fill('13');
    answer();
    await expect.poll(async () => (await facts()).get('drive')?.value).toBe('all');
    await page.getByText('not yet told').waitFor({ state: 'detached' });
    await page.getByLabel('Mass with driver').pressSequentially('90');
    await page.getByLabel('Mass with driver').blur();
    await expect.poll(async () => (await facts()).get('massKg')?.value).toBe(1390);
    await page.unrouteAll();

    const open = async (name: string) => page.locator('summary', { hasText: name }).click();
    await open('Brakes');
    await page.getByLabel('Brake, rear').selectOption('drum');
    await page.getByLabel('Largest diameter cast in the drum, rear').fill('230,5');
    await page.getByLabel('Largest diameter cast in the drum, rear').blur();
    const drum = async () => (await facts()).get('drumMaximumDiameterMm.RR');
    await expect.poll(drum).toMatchObject({ value: 230.5, origin: 'stamped' });
    expect(await page.getByLabel('Least thickness stamped on the disc, rear').count()).toBe(0);

    await open('Wheels and torque');
    const torque = page.getByLabel('Torque of the wheel bolts, from the handbook');
    await torque.fill('1100');
    await torque.blur();
    await page.locator('.fault', { hasText: 'unusual' }).waitFor();
    await expectAccessible(page, 'a slip');
    await torque.fill('120 Nm');
    await torque.blur();
    await expect.poll(async () => (await facts()).get('wheelNutTorqueNm')?.value).toBe(120);

    await open('The link of the car');
    await page.getByRole('button', { name: 'Make a link for me' }).click();
    const url = (await page.locator('.made-link a').getAttribute('href')) ?? '';
    await expectAccessible(page, 'everything open');
    await expectReflow(page);
    await expectTargets(page, 44);
    expect(faults).toEqual([]);

    const other = await openDevice(browser, { url: site.url, viewport: SMALLEST, language: 'de' });
    const own = await other.newPage();
    await own.goto(url);
    await own.locator('summary', { hasText: 'Gurte' }).click();
    await own.getByLabel('Gurt des Fahrers').selectOption('harness');
    await own.getByLabel('Bänder des Gurts').selectOption('6');
    await expect.poll(async () => (await facts()).get('harnessPoints')?.value).toBe(6);
    expect(own.url()).not.toContain('gw_');
    await expectAccessible(own, 'German');
    await expectReflow(own);
  });

  test('goes on without a network: opens again, keeps what is said, and tells it later; a slip is asked about then', async () => {
    const entryId = site.demo.walkEntryId;
    const entrant = await site.t.mint('entrant', { holder: 'Ruben Aalto', entryId });
    const { body: entry } = await site.t.api('organizer').get(`/v1/entries/${entryId}`).expect(200);
    const value = async (path: string) => {
      const { body } = await site.t.api('organizer').get(`/v1/vehicles/${entry.vehicleId}/facts`).expect(200);
      return (body.facts as { path: string; value: unknown }[]).find((one) => one.path === path)?.value;
    };
    const before = await value('massKg');
    const phone = await openDevice(browser, { url: site.url, viewport: SMALLEST, theme: 'dark' });
    const page = await phone.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage#${entrant.token}`);
    await page.getByRole('link', { name: 'Your car: what it is' }).click();
    await page.locator('.car-section').first().waitFor();
    // the page is kept once its worker has what it is made of
    await page.evaluate(async () => navigator.serviceWorker.ready);

    await phone.setOffline(true);
    await page.reload();
    await page.getByText('No network. What you see is from').waitFor();
    const say = async (label: string, typed: string) => {
      const field = page.getByLabel(label);
      await field.fill(typed);
      await field.blur();
    };
    await say('Mass with driver', '1400');
    await say('Its own top speed', '1200');
    await page.getByText('Kept on this device, not yet told to the organizer.').nth(1).waitFor();
    await page.getByText('2 answers are kept on this device').waitFor();
    // what was said last counts
    await say('Mass with driver', '1410');
    // the stamp too, with its photo
    await page.locator('summary', { hasText: 'Brakes' }).click();
    await say('Least thickness stamped on the disc, front', '21.4');
    const stamp = page.locator('.question', { hasText: 'Least thickness stamped on the disc, front' });
    await stamp.locator('input[type=file]').setInputFiles({
      name: 'stamp.jpg',
      mimeType: 'image/jpeg',
      buffer: await makePhoto(),
    });
    await stamp.getByText('The photo is kept on this device').waitFor();
    await expectAccessible(page, 'no network');
    await expectReflow(page);
    await page.reload();
    await page.getByText('4 answers are kept on this device').waitFor();
    expect(await page.getByLabel('Mass with driver').inputValue()).toBe('1410');
    await page.screenshot({ path: 'dist/screenshots/car-no-network-dark.png', fullPage: true });
    expect(await value('massKg')).toBe(before);

    await phone.setOffline(false);
    await expect.poll(() => value('massKg'), { timeout: 30_000 }).toBe(1410);
    await page.locator('.fault', { hasText: 'unusual' }).waitFor();
    await expect
      .poll(
        async () => {
          const { body } = await site.t.api('organizer').get(`/v1/vehicles/${entry.vehicleId}/facts`).expect(200);
          return (body.facts as { path: string }[]).find(({ path }) => path === 'rotorMinimumThicknessMm.FL');
        },
        { timeout: 30_000 },
      )
      .toMatchObject({ value: 21.4, origin: 'stamped', photoId: expect.any(String) });
    expect(await value('topSpeedKmh')).not.toBe(1200);
    await say('Its own top speed', '200');
    await expect.poll(() => value('topSpeedKmh'), { timeout: 30_000 }).toBe(200);
    await page.getByText('No network').waitFor({ state: 'detached' });
    expect(faults).toEqual([]);
    await phone.close();
  });
});
