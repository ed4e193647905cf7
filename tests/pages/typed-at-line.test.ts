import { describe, expect, test } from 'vitest';
import {
  expectAccessible,
  expectReflow,
  expectTargets,
  hasChromium,
  openDevice,
  watchPage,
} from './support/browser.ts';
import { openLine, takeCar } from './support/line.ts';
import { browser, site, useSite } from './support/site.ts';

/** Entered, with a draft from home, and never submitted: its entrant stands at the line without a phone. */
const NUMBER = '21';

describe.skipIf(!hasChromium())('a declaration typed at the line', () => {
  useSite();

  const revisions = () =>
    site.t.deps.db.prisma.inspection.findMany({
      where: { entryId: site.demo.walkEntryId },
      orderBy: { revision: 'asc' },
    });

  test('from the refused claim to a place on the line; whoever typed does not get the car, another does', async () => {
    const { device, page, faults } = await openLine(browser, site);
    await page.getByLabel('Car number').fill(NUMBER);
    await page.getByRole('button', { name: 'Take', exact: true }).first().click();
    await page.getByRole('heading', { name: `Car ${NUMBER} has no declaration that counts` }).waitFor();
    await expectAccessible(page, 'the way out');
    await expectTargets(page, 64, 'main');
    await page.getByRole('link', { name: 'Type the declaration with the entrant' }).click();

    await page.locator('.car-number').getByText(NUMBER).waitFor();
    expect(new URL(page.url()).hash).toBe('');
    await page.getByText('Whoever types does not sign this car off').waitFor();
    // Stopping the own car and the window are the entrant's.
    expect(await page.getByRole('button', { name: /Stop this car/ }).count()).toBe(0);
    await expectAccessible(page, 'the walk');
    await expectReflow(page);
    await page.getByText('All questions by area').click();
    await page.getByRole('button', { name: /Pads, linings, rotors and drums/ }).click();
    const pad = page.getByLabel('Front left, Inner pad, mm');
    await pad.fill('7.5');
    await page.getByText('Not judged yet').first().waitFor();
    await page.getByText('1 answer typed. It is kept on this device until you submit.').waitFor();
    // Nothing of it is with the server, and nothing is lost here.
    expect(
      (await site.t.deps.db.prisma.draft.findUniqueOrThrow({ where: { entryId: site.demo.walkEntryId } })).answers,
    ).not.toMatchObject({ 'pad.thickness': { 'FL.in': 7.5 } });
    await page.reload();
    await pad.waitFor();
    expect(await pad.inputValue()).toBe('7.5');

    await page.getByRole('button', { name: 'All areas' }).click();
    await page.getByRole('button', { name: 'Check and send' }).click();
    await page.getByRole('button', { name: 'Submit', exact: true }).click();
    const dialog = page.getByRole('dialog', { name: 'Submit the declaration?' });
    await dialog.getByRole('button', { name: 'Submit now' }).click();
    await dialog.getByText('Choose who says it').waitFor();
    expect(await revisions()).toEqual([]);
    await dialog.getByLabel('Ines Haldorsen').check();
    await expectAccessible(page, 'who says it');
    await expectReflow(page);
    await dialog.getByRole('button', { name: 'Submit now' }).click();
    await page.getByRole('heading', { name: /^To the line/ }).waitFor();
    const [typed, ...others] = await revisions();
    expect(others).toEqual([]);
    expect(typed).toMatchObject({ submittedName: 'Ines Haldorsen', answers: { 'pad.thickness': { 'FL.in': 7.5 } } });

    await page.getByRole('link', { name: 'Back to the line' }).click();
    await page.locator('.tickets li').first().waitFor();
    await page.getByLabel('Car number').fill(NUMBER);
    await page.getByRole('button', { name: 'Take', exact: true }).first().click();
    await page.getByText('or you typed its declaration').waitFor();
    expect(faults).toEqual([]);
    await device.close();

    const { token } = await site.t.mint('inspector', { holder: 'Another inspector' });
    const other = await openLine(browser, site, { token });
    await takeCar(other.page, NUMBER);
    await other.page.getByRole('button', { name: 'Put back', exact: true }).click();
    expect(other.faults).toEqual([]);
    await other.device.close();
  });

  test('is not for others of the staff, nor for a device without access', async () => {
    const marshal = await openDevice(browser, { url: site.url });
    const page = await marshal.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage?entry=${site.demo.walkEntryId}`);
    await page.getByText('no access').first().waitFor();
    await page.goto(`/garage?entry=${site.demo.walkEntryId}#${site.demo.tokens.marshal}`);
    await page.reload();
    await page.getByText('Declarations are typed for entrants by inspectors').waitFor();
    expect(faults).toEqual([]);
    await marshal.close();
  });
});
