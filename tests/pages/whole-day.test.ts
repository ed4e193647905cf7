import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { DESKTOP, hasChromium, openDevice, leaveBrowser, startBrowser, watchPage } from './support/browser.ts';
import { askByKeyboard, untilReady } from './support/gate.ts';
import { markFirst, takeCar } from './support/line.ts';
import { type Site, startSite } from './support/site.ts';

const WALK_CAR = '21';

// From here on nothing but pages: what each person sees, taps and types.
describe.skipIf(!hasChromium())('a day with nothing but the pages', () => {
  let site: Site;
  let browser: Browser;
  const faults: string[] = [];
  const devices: BrowserContext[] = [];
  beforeAll(async () => {
    [site, browser] = await Promise.all([startSite({ withJobs: true }), startBrowser()]);
  });
  afterAll(async () => {
    for (const device of devices) await device.close();
    await leaveBrowser(browser);
    await site.close();
  });

  async function openAt(address: string, viewport?: typeof DESKTOP): Promise<Page> {
    const device = await openDevice(browser, { url: site.url, ...(viewport === undefined ? {} : { viewport }) });
    devices.push(device);
    const page = await device.newPage();
    const seen = watchPage(page);
    page.on('close', () => faults.push(...seen));
    await page.goto(address);
    return page;
  }

  const button = (page: Page, name: string) => page.getByRole('button', { name, exact: true });
  const secretOf = async (office: Page) => (await office.locator('.secret code.key').textContent()) ?? '';

  async function codeFor(office: Page, role: string, holder: string): Promise<string> {
    const enrol = office.getByRole('form', { name: 'Code for a device of the staff' });
    await enrol.getByLabel('Role').selectOption({ label: role });
    await enrol.getByLabel('Person or device').fill(holder);
    await enrol.getByRole('button', { name: 'Make a code' }).click();
    const code = await secretOf(office);
    await button(office, 'Hide it for good').click();
    return code;
  }

  async function setUp(address: string): Promise<Page> {
    const device = await openAt(address);
    await button(device, 'Set this device up').click();
    return device;
  }

  test('office: links and codes; garage: the declaration; line: sign-off; gate: the answer, also without the server', async () => {
    const office = await openAt(`/office#${site.demo.tokens.organizer}`, DESKTOP);
    await office.getByRole('link', { name: 'Access' }).click();
    const mint = office.getByRole('form', { name: 'Link for one person' });
    await mint.getByLabel('Entry').selectOption({ label: `${WALK_CAR} Novice` });
    await mint.getByLabel('Person or device').fill('Ines Haldorsen');
    await mint.getByRole('button', { name: 'Make a link' }).click();
    const link = await secretOf(office);
    await button(office, 'Hide it for good').click();
    const forInspector = await codeFor(office, 'Inspector', 'Mara Oyelaran');
    const forMarshal = await codeFor(office, 'Marshal at the gate', 'Gate phone 7');

    const gate = await setUp(forMarshal);
    await untilReady(gate);
    expect(await askByKeyboard(gate, WALK_CAR)).toMatchObject({ kind: 'stop', status: 'no-declaration' });

    const garage = await openAt(link);
    await button(garage, 'Check and send').click();
    await button(garage, 'Submit').click();
    await button(garage, 'Submit now').click();
    await garage.getByText(/Place \d+ on the line|next on the line/).waitFor();

    const line = await setUp(forInspector);
    await takeCar(line, WALK_CAR);
    await markFirst(line);
    await line.getByLabel('Sticker number').fill('D-21');
    await button(line, 'Add').click();
    await button(line, 'With conditions').click();
    await button(line, 'Sign off').click();
    await line.getByRole('heading', { name: `Car ${WALK_CAR} is accepted with conditions` }).waitFor();

    await button(gate, 'Next car').click();
    expect(await askByKeyboard(gate, WALK_CAR)).toMatchObject({ kind: 'conditions', source: 'server' });
    await button(gate, 'Next car').click();
    await gate.reload();
    await untilReady(gate);
    await site.kill();
    await expect
      .poll(async () => {
        const answer = await askByKeyboard(gate, WALK_CAR);
        await button(gate, 'Next car').click();
        return answer;
      })
      .toMatchObject({ kind: 'conditions', source: 'list' });
    await site.revive();

    for (const device of devices) for (const page of device.pages()) await page.close();
    expect(faults).toEqual([]);
  });
});
