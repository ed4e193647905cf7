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
import { browser, site, useSite } from './support/site.ts';

describe.skipIf(!hasChromium())('what an entrant writes down after a session', () => {
  useSite();

  test('a session takes seven taps and five numbers, without a network too; a smell of fuel stops the car', async () => {
    const device = await openDevice(browser, { url: site.url, viewport: SMALLEST });
    const page = await device.newPage();
    const faults = watchPage(page);
    const api = site.t.api('organizer');
    const address = `/v1/entries/${site.demo.walkEntryId}`;
    await page.goto(`/garage#${site.demo.tokens.entrant}`);
    await page.getByRole('button', { name: 'After a session: write it down' }).click();
    await page.locator('#session').waitFor();
    await expectAccessible(page, 'after a session');
    await expectReflow(page);
    await expectTargets(page, 44);
    await device.setOffline(true);
    // as people type it; the first field is tapped, from there the keyboard goes on
    for (const [field, value] of Object.entries({ FL: '32 psi', FR: '2,2 bar', RL: '215', RR: '216' })) {
      await page.locator(`[id="session-hot.${field}"]`).fill(value);
    }
    await page.getByLabel(/All wheels checked at \d+ N·m, cooled down/).check();
    await page.locator('[id="session-pads.front"]').fill('7,5mm');
    await page.getByRole('button', { name: 'Write it down' }).click();
    for (const what of ['wheel torque', 'pressures', 'pads']) {
      await page.getByText(`not yet sent: ${what}, session 1.`).waitFor();
    }
    // the next session begins empty, under its number
    expect(await page.locator('[id="session-hot.FL"]').inputValue()).toBe('');
    await device.setOffline(false);
    await page.getByText('Written down: pads, session 1.').waitFor();
    const { log } = (await api.get(`${address}/log`).expect(200)).body;
    const cells = Object.assign({}, ...log.map((one: { cells: object }) => one.cells)) as Record<string, number>;
    expect(log.map((one: { kind: string }) => one.kind).toSorted()).toEqual(['pads', 'pressures', 'torque']);
    expect(cells).toMatchObject({ 'tyre.hot-pressure@RL': 215, 'pad.thickness@front': 7.5 });
    // 32 psi is 220.6 kPa: 1 psi = 6.894757 kPa, NIST Special Publication 811, appendix B
    expect(cells['tyre.hot-pressure@FL']).toBeCloseTo(221, 0);
    await page.locator('[id="session-hot.FL"]').fill('much');
    await page.getByRole('button', { name: 'Write it down' }).click();
    await page.getByText('One field is not a number').waitFor();
    await page.locator('[id="session-hot.FL"]').fill('');
    await page.getByLabel('It smells of fuel').check();
    await page.getByRole('button', { name: 'Write it down' }).click();
    await page.getByText('Your car is stopped.').waitFor();
    await page.getByRole('heading', { name: 'You stopped this car' }).waitFor();
    const held = (await api.get(address).expect(200)).body;
    expect(held).toMatchObject({
      clearance: { admit: false, status: 'held' },
      holds: [{ byEntrant: true, kind: 'leak' }],
    });
    // the countdown is kept for the time without a network
    await page.getByRole('button', { name: 'All parts' }).click();
    await page.getByRole('button', { name: 'What to do until the event' }).click();
    await page.getByRole('heading', { name: 'Packing list' }).waitFor();
    await expectAccessible(page, 'countdown');
    await expectReflow(page);
    await expectTargets(page, 44);
    const shown = await page.locator('main').innerText();
    // no raw key, enum or instant in front of a person
    expect(shown).not.toMatch(/\{\w+\}|\b(?:task|stage|pack|date)\.\w|\dT\d\d:|\bundefined\b|NaN/);
    await device.setOffline(true);
    await page.getByRole('button', { name: 'All parts' }).click();
    await page.getByRole('button', { name: 'What to do until the event' }).click();
    await page.getByText('This is what the server said on').waitFor();
    expect(faults).toEqual([]);
    await device.close();
  });
});
