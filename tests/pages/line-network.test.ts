import { Buffer } from 'node:buffer';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { expectAccessibleInBoth, hasChromium } from './support/browser.ts';
import { askGate, countSignOffs, markFirst, openLine, takeCar } from './support/line.ts';
import { browser, site, useSite } from './support/site.ts';

const SOON = { timeout: 30_000 };

describe.skipIf(!hasChromium())('the tech line when things break', () => {
  useSite();

  /** Moves the end of every lease into the past, as if time had gone by. */
  const expireClaims = () =>
    site.t.deps.db.prisma
      .$executeRaw`UPDATE claims SET expires_at = now() - interval '1 second' WHERE ended_at IS NULL`;

  test('no network in the middle: what was typed survives, and the sign-off is sent once, later', async () => {
    const { device, page, faults } = await openLine(browser, site);
    await takeCar(page, '42');
    await markFirst(page);
    const wheels = page.getByText('Wheels and tyres', { exact: true });
    await device.setOffline(true);
    // Typed without a network: a tread depth below what was declared.
    await wheels.click();
    await page.getByRole('group', { name: 'Tread depth', exact: true }).getByText('Place by place').click();
    const place = page.getByRole('group', { name: 'Tread depth, Rear right, outer edge' });
    await place.getByRole('button', { name: /less/ }).click();
    const measured = await place.getByLabel(/Measured/).inputValue();
    expect(Number(measured)).toBeGreaterThan(0);
    await place.getByText('Note and photo').click();
    await place.getByLabel('Note').fill('wears on the outside');
    const picture = await sharp({ create: { width: 64, height: 48, channels: 3, background: 'red' } })
      .jpeg()
      .toBuffer();
    const file = { name: 'tyre.jpg', mimeType: 'image/jpeg', buffer: Buffer.from(picture) };
    await place.locator('input[type=file]').setInputFiles(file);
    await place.getByText('1 photo not yet sent.').waitFor();
    await page.getByLabel('Sticker number').fill('N-42');
    await page.getByRole('button', { name: 'Put back' }).click();
    await page.getByText('No connection: this needs the server').waitFor();
    // The browser goes away and comes back, still without a network.
    const address = page.url();
    await page.close();
    const again = await device.newPage();
    await again.goto(address);
    await again.getByRole('heading', { name: 'Car 42', exact: true }).waitFor();
    expect(await again.getByLabel('Sticker number').inputValue()).toBe('N-42');
    await again.getByText('Wheels and tyres', { exact: true }).click();
    await again.getByRole('group', { name: 'Tread depth', exact: true }).getByText('Place by place').click();
    const same = again.getByRole('group', { name: 'Tread depth, Rear right, outer edge' });
    expect(await same.getByLabel(/Measured/).inputValue()).toBe(measured);
    await again.getByRole('button', { name: 'Accept', exact: true }).click();
    await again.getByRole('button', { name: 'Sign off' }).click();
    await again.getByRole('heading', { name: 'Car 42: not yet sent' }).waitFor();
    await expectAccessibleInBoth(again, 'unsent');
    expect(await again.getByText(/is accepted/).count()).toBe(0);
    await again.reload();
    await again.getByRole('heading', { name: 'Car 42: not yet sent' }).waitFor();
    expect(await countSignOffs(site, '42')).toBe(0);
    await device.setOffline(false);
    await again.getByRole('heading', { name: 'Car 42 is accepted', exact: true }).waitFor(SOON);
    await expectAccessibleInBoth(again, 'accepted');
    expect(await countSignOffs(site, '42')).toBe(1);
    expect((await askGate(site, '42')).admit).toBe(true);
    const { prisma } = site.t.deps.db;
    const { checks } = await prisma.signOff.findFirstOrThrow({ where: { stickerNumber: 'N-42' } });
    expect(checks).toContainEqual({
      item: 'tyre.tread',
      position: 'RR.outer',
      value: { value: Number(measured), unit: 'mm' },
      note: 'wears on the outside',
    });
    expect(await prisma.photo.count({ where: { itemKey: 'tyre.tread', position: 'RR.outer' } })).toBe(1);
    expect(faults).toEqual([]);
    await device.close();
  });

  test('the server dies after it has signed and before it has answered: signed once, and its answer is shown', async () => {
    const { device, page } = await openLine(browser, site);
    await takeCar(page, '18');
    await page.getByLabel('Note; the driver reads it').fill('Not today.');
    let lost = 0;
    await page.route('**/sign-off', async (route) => {
      if (lost > 0) return route.continue();
      lost += 1;
      const answer = await route.fetch();
      expect(answer.status()).toBe(201);
      await site.kill();
      return route.abort();
    });
    await page.getByRole('button', { name: 'Refuse', exact: true }).click();
    await page.getByRole('button', { name: 'Sign off' }).click();
    await page.getByRole('heading', { name: 'Car 18: not yet sent' }).waitFor();
    expect(await page.getByText(/is refused/).count()).toBe(0);
    await site.revive();
    await page.getByRole('heading', { name: 'Car 18 is refused' }).waitFor(SOON);
    await expectAccessibleInBoth(page, 'refused');
    expect(lost).toBe(1);
    expect(await countSignOffs(site, '18')).toBe(1);
    await device.close();
  });

  test('two inspectors, one car: the second is told who has it; when the time is over he may take it', async () => {
    const config: { claimLeaseMinutes: number } = site.t.deps.config;
    const usual = config.claimLeaseMinutes;
    // 12 seconds: renewed by itself at 6, and then no more, because nobody works.
    config.claimLeaseMinutes = 0.2;
    const second = await site.t.mint('inspector', { holder: 'Second Inspector' });
    const [one, two] = await Promise.all([openLine(browser, site), openLine(browser, site, { token: second.token })]);
    await takeCar(one.page, '07');
    await one.page.getByLabel('Sticker number').fill('S-07');
    const taken = await one.page.getByRole('timer').textContent();
    await two.page.getByLabel('Car number').fill('07');
    await two.page.getByRole('button', { name: 'Take', exact: true }).first().click();
    await two.page.getByText(/Mara Oyelaran has this car until/).waitFor();
    await two.page.getByText(/Mara Oyelaran has it until/).waitFor();
    expect(taken).toMatch(/^yours for 00:1\d$/);
    const { prisma } = site.t.deps.db;
    const renewals = () => prisma.history.count({ where: { action: 'claim.renewed' } });
    await expect.poll(renewals, SOON).toBeGreaterThan(0);
    await one.page.getByText('time is over').waitFor(SOON);
    config.claimLeaseMinutes = usual;
    // The time on the screen is the device's, to the second: whoever is a moment too early takes the car again.
    const taking = two.page.getByRole('heading', { name: 'Car 07', exact: true });
    await expect
      .poll(async () => {
        await two.page.getByLabel('Car number').fill('07');
        await two.page.getByRole('button', { name: 'Take', exact: true }).first().click();
        return taking.waitFor({ timeout: 5000 }).then(
          () => true,
          () => false,
        );
      }, SOON)
      .toBe(true);
    await markFirst(two.page);
    // The first comes back to the car: he is told, and what he entered is there to be copied.
    await one.page.getByLabel('Sticker number').fill('S-07b');
    await one.page.getByText('Second Inspector has car 07 now').waitFor(SOON);
    expect(await one.page.getByLabel('What you entered').inputValue()).toContain('S-07b');
    await expectAccessibleInBoth(one.page, 'ended');
    await one.page.getByRole('button', { name: 'Take it again' }).click();
    await one.page.getByText(/Second Inspector has this car until/).waitFor();
    await two.page.getByLabel('Sticker number').fill('Z-07');
    await two.page.getByRole('button', { name: 'Accept', exact: true }).click();
    await two.page.getByRole('button', { name: 'Sign off' }).click();
    await two.page.getByRole('heading', { name: 'Car 07 is accepted', exact: true }).waitFor();
    expect(await countSignOffs(site, '07')).toBe(1);
    await Promise.all([one.device.close(), two.device.close()]);
  });

  test('a hold without a network is kept, told once when it can be, and stands on the screen until then', async () => {
    const { device, page, faults } = await openLine(browser, site);
    const holds = () =>
      site.t.deps.db.prisma.hold.findMany({
        where: { entry: { carNumber: '21' } },
        select: { kind: true, reason: true },
      });
    await page.getByRole('button', { name: 'Hold', exact: true }).click();
    await device.setOffline(true);
    await page.getByLabel('Car number').fill('21');
    await page.getByRole('button', { name: 'Find' }).click();
    await page.getByRole('button', { name: 'Smoke' }).click();
    await page.getByRole('button', { name: 'Hold car 21' }).click();
    await page.getByRole('heading', { name: 'Not yet told the others' }).waitFor();
    await expectAccessibleInBoth(page, 'a hold that nobody knows of');
    await page.reload();
    await page.getByText('Car 21 is stopped: Smoke').waitFor();
    expect(await holds()).toEqual([]);
    let lost = 0;
    await device.route('**/holds', async (route) => {
      lost += 1;
      if (lost > 1) return route.continue();
      await route.fetch();
      return route.abort();
    });
    await device.setOffline(false);
    await page.getByRole('heading', { name: 'Not yet told the others' }).waitFor({ state: 'detached', ...SOON });
    expect(lost).toBeGreaterThan(1);
    expect(await holds()).toEqual([{ kind: 'smoke', reason: 'Smoke' }]);
    expect((await askGate(site, '21')).status).toBe('held');
    expect(faults).toEqual([]);
    await device.close();
  });

  test('access that was revoked: what was decided stays on the device, and is told when it cannot count', async () => {
    const revoked = await site.t.mint('inspector', { holder: 'Fourth Inspector' });
    const { device, page } = await openLine(browser, site, { token: revoked.token });
    await takeCar(page, '62');
    await page.getByLabel('Note; the driver reads it').fill('Leaks at the rear.');
    await site.t.api('organizer').delete(`/v1/tokens/${revoked.tokenId}`).expect(204);
    await page.getByRole('button', { name: 'Refuse', exact: true }).click();
    await page.getByRole('button', { name: 'Sign off' }).click();
    await page.getByText('What you entered stays on this device').waitFor();
    await expectAccessibleInBoth(page, 'revoked');
    await page.getByRole('heading', { name: 'Car 62: not yet sent' }).waitFor();
    // A new code for the same person: the claim was the old one's.
    const fresh = await site.t.mint('inspector', { holder: 'Fourth Inspector' });
    const other = await device.newPage();
    await other.goto(`/line#${fresh.token}`);
    await other.getByText('not yours any more').waitFor(SOON);
    await other.getByRole('button', { name: 'Continue with car 62' }).first().click();
    expect(await other.getByLabel('What you entered').inputValue()).toContain('Leaks at the rear.');
    expect(await countSignOffs(site, '62')).toBe(0);
    await device.close();
    await expireClaims();
  });

  test('signed without a network while another took the car: told so, and never both', async () => {
    const { device, page } = await openLine(browser, site);
    await takeCar(page, '62');
    await page.getByLabel('Note; the driver reads it').fill('The fluid boils too early.');
    await device.setOffline(true);
    await page.getByRole('button', { name: 'Refuse', exact: true }).click();
    await page.getByRole('button', { name: 'Sign off' }).click();
    await page.getByRole('heading', { name: 'Car 62: not yet sent' }).waitFor();
    // Meanwhile his time runs out, and a colleague takes the car.
    await expireClaims();
    const other = await site.t.mint('inspector', { holder: 'Third Inspector' });
    const path = `/v1/events/${site.demo.eventId}/line/claims`;
    await site.t.api(other).post(path).send({ carNumber: '62' }).expect(201);
    await device.setOffline(false);
    await page.getByText('Third Inspector has car 62 now. Your sign-off does not count.').waitFor(SOON);
    expect(await page.getByLabel('What you entered').inputValue()).toContain('The fluid boils too early.');
    expect(await countSignOffs(site, '62')).toBe(0);
    await device.close();
  });
});
