import { fileURLToPath } from 'node:url';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { apiClient, type ApiAnswer } from '../../seed/demo/api-client.ts';
import {
  DESKTOP,
  expectAccessible,
  hasChromium,
  openDevice,
  leaveBrowser,
  startBrowser,
  watchPage,
} from './support/browser.ts';
import { type Site, startSite } from './support/site.ts';

describe.skipIf(!hasChromium())('the race office', () => {
  let site: Site;
  let browser: Browser;
  let organizer: BrowserContext;
  let chief: BrowserContext;
  const get = (path: string): Promise<ApiAnswer> =>
    apiClient(site.url)('GET', path, { token: site.demo.tokens.organizer });
  const statusAtGate = async (number: string): Promise<unknown> =>
    (await get(`/v1/events/${site.demo.eventId}/gate/${number}`)).body['status'];

  beforeAll(async () => {
    [site, browser] = await Promise.all([startSite({ withJobs: true }), startBrowser()]);
    organizer = await openDevice(browser, { url: site.url, viewport: DESKTOP });
    chief = await openDevice(browser, { url: site.url, viewport: DESKTOP });
    await enter(organizer, site.demo.tokens.organizer);
    await enter(chief, site.demo.tokens.chief);
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await site.close();
  });

  async function enter(device: BrowserContext, token: string): Promise<void> {
    const page = await device.newPage();
    await page.goto(`/office#${token}`);
    await page.locator('nav.sections').waitFor();
    expect(page.url()).not.toContain(token);
    await page.close();
  }

  async function open(device: BrowserContext, query: string): Promise<{ page: Page; faults: string[] }> {
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/office?${query}`);
    await page.locator('h2').last().waitFor();
    return { page, faults };
  }

  const cell = (page: Page, status: string) => page.locator(`tr[data-count=${status}] td`).first();

  test('counts as the API does, and shows a hold placed elsewhere by itself', async () => {
    const { page, faults } = await open(organizer, 'section=overview');
    const { body } = await get(`/v1/events/${site.demo.eventId}/readiness`);
    const entries = body['entries'] as { total: number; statuses: Record<string, number> };
    const table = page.getByRole('region', { name: 'Entries by status and run group' });
    await table.waitFor();
    for (const [status, count] of Object.entries(entries.statuses)) {
      expect(await cell(page, status).textContent(), status).toBe(String(count));
    }
    expect(await cell(page, 'total').textContent()).toBe(String(entries.total));
    const newest = page.locator('.newest strong');
    const before = Number((await newest.textContent())?.slice(1));
    await page.locator('.age', { hasText: 'told of every change' }).waitFor();

    const other = await open(organizer, `section=entries`);
    await other.page.getByLabel('Number, name or car').fill('14');
    await other.page.getByRole('link', { name: '14 Novice' }).click();
    await other.page.getByRole('button', { name: 'Hold this car' }).click();
    const reason = other.page.getByLabel('Why the car is held');
    await expect.poll(() => reason.getAttribute('aria-invalid')).toBe('true');
    expect(await reason.evaluate((field) => field === document.activeElement)).toBe(true);
    await expectAccessible(other.page, 'hold refused without a reason');
    await reason.fill('Oil on the left rear wheel');
    await other.page.getByRole('button', { name: 'Hold this car' }).click();
    await other.page.locator('[data-status=held]').waitFor();
    expect(await statusAtGate('14')).toBe('held');

    await page.getByText('Oil on the left rear wheel').waitFor();
    await expect.poll(() => newest.textContent()).toBe(`#${before + 1}`);
    await expect.poll(() => cell(page, 'held').textContent()).toBe(String((entries.statuses['held'] ?? 0) + 1));

    await other.page.getByRole('button', { name: 'Lift the hold' }).click();
    await other.page.getByLabel('Why the car may go again').fill('Wheel cleaned, no leak found');
    await other.page.getByRole('button', { name: 'Lift the hold' }).click();
    await other.page.locator('[data-status=in-line]').waitFor();
    expect(await statusAtGate('14')).toBe('in-line');
    await other.page.getByRole('button', { name: 'Show the history' }).click();
    await other.page.getByRole('rowheader', { name: 'Hold lifted' }).waitFor();
    await other.page.getByText('The chain of this history is unbroken.').waitFor();
    expect([...faults, ...other.faults]).toEqual([]);
    await page.close();
    await other.page.close();
  });

  test('a hold and a withdrawal without a network are kept and told later; a lift names the points that are open', async () => {
    const list = await get(`/v1/events/${site.demo.eventId}/entries?carNumber=22`);
    const [entry] = list.body['entries'] as { entryId: string }[];
    const query = `section=entries&entry=${entry?.entryId}`;
    const { page, faults } = await open(organizer, query);
    await page.getByLabel('What it is held for').selectOption('contact');
    await page.getByLabel('Why the car is held').fill('Touched the wall');
    await organizer.setOffline(true);
    await page.getByRole('button', { name: 'Hold this car' }).click();
    await page.getByText('Car 22 is stopped: Touched the wall').waitFor();
    await page.getByRole('button', { name: 'Withdraw this entry' }).waitFor();
    expect(await statusAtGate('22')).not.toBe('held');
    // The office has no page without a network: what was kept is there when it is opened again.
    await page.close();
    await organizer.setOffline(false);
    const again = await open(organizer, query);
    await expect.poll(() => statusAtGate('22'), { timeout: 30_000 }).toBe('held');
    await again.page.getByRole('button', { name: 'Lift the hold' }).click();
    const form = again.page.getByRole('form', { name: 'Lift the hold' });
    await form.getByLabel('Why the car may go again').fill('All straight');
    await form.getByRole('checkbox', { name: 'In order: Bent wheel' }).check();
    await form.getByRole('button', { name: 'Lift the hold' }).click();
    await form.getByText(/^Still open: .*Look at them, or send the car through the line again/).waitFor();
    await expectAccessible(again.page, 'a lift with open points');
    await form.getByLabel('Without all points: you answer for it, with your reason').check();
    await form.getByRole('button', { name: 'Lift the hold' }).click();
    await again.page.getByText('The hold is lifted.').waitFor();
    expect(await statusAtGate('22')).not.toBe('held');

    await again.page.getByRole('button', { name: 'Withdraw this entry' }).click();
    const keys: (string | undefined)[] = [];
    await organizer.route('**/withdraw', async (route) => {
      keys.push(route.request().headers()['idempotency-key']);
      if (keys.length > 1) return route.continue();
      await route.fetch();
      return route.abort();
    });
    await again.page.getByRole('button', { name: 'Withdraw for good' }).click();
    await again.page.getByText('Car 22 is withdrawn: –').waitFor();
    // It had arrived: sent again it is the same one.
    await again.page.locator('[data-status=withdrawn]').waitFor();
    await again.page.locator('.untold').waitFor({ state: 'detached' });
    expect(await statusAtGate('22')).toBe('withdrawn');
    expect([keys.length, new Set(keys).size, typeof keys[0]]).toEqual([2, 1, 'string']);
    await organizer.unroute('**/withdraw');
    expect([...faults, ...again.faults]).toEqual([]);
    await again.page.close();
  });

  test('one tap says that the track is wet, with how many cars lose their go, and one that it is dry', async () => {
    const { page, faults } = await open(chief, 'section=overview');
    const groups = await get(`/v1/events/${site.demo.eventId}/run-groups`);
    const [group] = groups.body['runGroups'] as { runGroupId: string; name: string }[];
    if (group === undefined) throw new Error('the demo event has no run group');
    const path = `/v1/events/${site.demo.eventId}/run-groups/${group.runGroupId}/track`;
    const { wouldGo, stayIn } = (await get(path)).body as { wouldGo: number; stayIn: number };
    await page.getByText(`in the wet ${stayIn} of ${wouldGo} cars would stay in`).first().waitFor();
    await page.getByRole('button', { name: `${group.name}: the track is wet` }).click();
    await page
      .getByText(`${group.name}: the track is wet. Cars that lose their go until it is dry: ${stayIn}.`)
      .waitFor();
    await page.locator('li[data-track=wet]', { hasText: group.name }).waitFor();
    await expectAccessible(page, 'a track that is wet');
    expect((await get(path)).body).toMatchObject({ wet: true, by: expect.stringMatching(/./) });
    await page.getByRole('button', { name: `${group.name}: the track is dry` }).click();
    await expect.poll(() => page.locator('li[data-track=wet]').count()).toBe(0);
    expect((await get(path)).body).toMatchObject({ wet: false, by: null });
    expect(faults).toEqual([]);
    await page.close();
  });

  test('goes on asking when the server was away, and says so meanwhile', async () => {
    const { page } = await open(organizer, 'section=overview');
    await page.locator('.age', { hasText: 'told of every change' }).waitFor();
    await site.kill();
    await page.locator('.age', { hasText: 'looked at every 10 seconds' }).waitFor();
    await page.getByRole('table', { name: 'Entries by status and run group' }).waitFor();
    await site.revive();
    await page.locator('.age', { hasText: 'told of every change' }).waitFor({ timeout: 20_000 });
    await page.close();
  });

  test('tries a list, names row, column and reason, and takes it over once it is good', async () => {
    const { page, faults } = await open(organizer, 'section=import');
    const file = (text: string) => ({ name: 'entries.csv', mimeType: 'text/csv', buffer: Buffer.from(text) });
    const head = 'carNumber,runGroup,entrantName,vehicle.description,vehicle.powertrain\n';
    const good = '88,Novice,Kaja Brandvold,"Saloon 2.0, 2016",combustion\n';
    await page
      .getByLabel('List of cars (CSV or XLSX)', { exact: true })
      .setInputFiles(file(`${head}${good}89,Novice,Per Utne,Hatchback,steam\n`));
    await page.getByRole('button', { name: 'Try the list' }).click();
    const bad = page.getByRole('table', { name: 'Bad rows' }).locator('tbody tr');
    await bad.waitFor();
    expect(await bad.locator('td, th').allTextContents()).toEqual([
      '3',
      '89',
      'vehicle.powertrain',
      expect.stringContaining('combustion'),
    ]);
    expect(await page.getByRole('button', { name: 'Take these entries over' }).count()).toBe(0);
    expect(await statusAtGate('88')).toBe('unknown');
    await expectAccessible(page, 'import report');

    await page.getByLabel('List of cars (CSV or XLSX)', { exact: true }).setInputFiles(file(`${head}${good}`));
    await page.getByRole('button', { name: 'Try the list' }).click();
    await page.getByRole('button', { name: 'Take these entries over' }).click();
    await page.getByText('Done: 1 new, 0 changed.').waitFor();
    expect(await statusAtGate('88')).toBe('no-declaration');
    // Good rows of a bad file are written after the answer; what came of them is there for whoever comes back.
    await page
      .getByLabel('List of cars (CSV or XLSX)', { exact: true })
      .setInputFiles(file(`${head}87,Novice,Ola Nesse,Hatchback,combustion\n89,Novice,Per Utne,Hatchback,steam\n`));
    await page.getByLabel('Take the good rows even when others are bad').check();
    await page.getByRole('button', { name: 'Try the list' }).click();
    await page.getByRole('button', { name: 'Take these entries over' }).click();
    await page.getByText('You may close this page.').waitFor();
    for (const visit of ['stays', 'comes back']) {
      if (visit === 'comes back') await page.reload();
      const last = page.locator('section, article', { hasText: 'The last large import' }).last();
      await last.getByText('Done 2 of 2').waitFor({ timeout: 30_000 });
      expect(await last.getByRole('table', { name: 'Bad rows' }).locator('tbody th').allTextContents()).toEqual(['89']);
    }
    expect(await statusAtGate('87')).toBe('no-declaration');
    // A list of another program: its letters, its title rows, its classes and the columns nobody needs.
    await page
      .getByLabel('List of cars (CSV or XLSX)', { exact: true })
      .setInputFiles(fileURLToPath(new URL('../fixtures/lists/01-nennliste-1252.csv', import.meta.url)));
    expect(await page.getByLabel('Encoding').inputValue()).toBe('windows-1252');
    await page.locator('[data-column="2"]', { hasText: 'Großkopf' }).waitFor();
    await page.getByLabel('Leave out all columns that are still open').check();
    await page.getByLabel('Run group: Einsteiger').selectOption('Novice');
    await page.getByLabel('Run group: Fortgeschrittene').selectOption('Novice');
    await expectAccessible(page, 'reading of a list');
    await page.getByRole('button', { name: 'Try the list' }).click();
    await page
      .getByText(/\d new, \d changed, \d unchanged, \d bad/)
      // What came of the last large import may stand below it still.
      .first()
      .waitFor();
    const [download] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name: 'Download' }).click(),
    ]);
    const stream = await download.createReadStream();
    const text = Buffer.concat(await stream.toArray()).toString();
    expect(text).toContain('Kaja Brandvold');
    expect(faults).toEqual([]);
    await page.close();
  });

  test('hands out a link that opens the garage and does not stay in its address', async () => {
    const { page, faults } = await open(organizer, 'section=access');
    const mint = page.getByRole('form', { name: 'Link for one person' });
    await mint.getByRole('button', { name: 'Make a link' }).click();
    await mint.getByRole('alert').waitFor();
    await mint.getByLabel('Entry').selectOption({ label: '21 Novice' });
    await mint.getByLabel('Person or device').fill('Ines Haldorsen');
    await mint.getByRole('button', { name: 'Make a link' }).click();
    const link = (await page.locator('.secret code.key').textContent()) ?? '';
    expect(link).toMatch(new RegExp(`^${site.url}/garage#gw_[\\w-]+$`));
    expect(await page.locator('.secret svg.qr').getAttribute('data-text')).toBe(link);
    await expectAccessible(page, 'link shown');
    const phone = await openDevice(browser, { url: site.url });
    const garage = await phone.newPage();
    await garage.goto(link);
    await garage.waitForFunction(() => localStorage.getItem('gridworthy.session.garage') !== null);
    expect(garage.url()).toBe(`${site.url}/garage`);
    await phone.close();
    await page.getByRole('button', { name: 'Hide it for good' }).click();
    expect(await page.locator('.secret').count()).toBe(0);
    expect(await page.content()).not.toContain(link);

    // Only the staff have an id of their own; the people of an entry are named on it.
    const personId = mint.getByLabel('Their id in your list of people, if any');
    expect(await personId.count()).toBe(0);
    await mint.getByLabel('Role').selectOption({ label: 'Inspector' });
    await personId.fill('ARC-1150');
    await mint.getByLabel('Person or device').fill('Ines Varga');
    await mint.getByRole('button', { name: 'Make a link' }).click();
    await page.getByRole('rowheader', { name: 'Ines Varga ARC-1150' }).waitFor();
    const made = await site.t.deps.db.prisma.token.findFirstOrThrow({ where: { holder: 'Ines Varga' } });
    expect(made).toMatchObject({ role: 'inspector', personId: 'ARC-1150' });
    expect(faults).toEqual([]);
    await page.close();
  });

  test('shows a code for a device with its countdown, and revokes what was redeemed', async () => {
    const { page, faults } = await open(organizer, 'section=access');
    const enrol = page.getByRole('form', { name: 'Code for a device of the staff' });
    await enrol.getByLabel('Minutes until it ends').fill('0');
    await enrol.getByLabel('Person or device').fill('Gate tablet 9');
    await enrol.getByRole('button', { name: 'Make a code' }).click();
    await expect.poll(() => enrol.getByLabel('Minutes until it ends').getAttribute('aria-invalid')).toBe('true');
    await enrol.getByLabel('Minutes until it ends').fill('5');
    const personId = enrol.getByLabel('Their id in your list of people, if any');
    await personId.fill('ARC 9');
    await enrol.getByRole('button', { name: 'Make a code' }).click();
    await expect.poll(() => personId.getAttribute('aria-invalid')).toBe('true');
    await personId.fill('ARC-9');
    await enrol.getByRole('button', { name: 'Make a code' }).click();
    const url = (await page.locator('.secret code.key').textContent()) ?? '';
    expect(url).toMatch(new RegExp(`^${site.url}/enrol#[\\w-]+$`));
    expect(await page.locator('.secret svg.qr').getAttribute('data-text')).toBe(url);
    await page.getByText(/This code can be scanned for (5:00|4:\d\d) more/).waitFor();
    const redeemed = await apiClient(site.url)('POST', '/v1/enrolments/redeem', { body: { code: url.split('#')[1] } });
    expect(redeemed.body).toMatchObject({ role: 'marshal', holder: 'Gate tablet 9', personId: 'ARC-9' });

    await page.reload();
    const row = page.getByRole('row').filter({ has: page.getByRole('rowheader', { name: 'Gate tablet 9 ARC-9' }) });
    await row.getByRole('button', { name: 'Revoke' }).click();
    await row.getByRole('group').getByRole('button', { name: 'Revoke' }).click();
    await page.getByText('The access of Gate tablet 9 is revoked.').waitFor();
    const own = await fetch(`${site.url}/v1/own-token`, {
      headers: { authorization: `Bearer ${String(redeemed.body['token'])}` },
    });
    expect(own.status).toBe(401);
    expect(faults).toEqual([]);
    await page.close();
  });

  test('prints a sheet of links, one per entry of a group', async () => {
    const { page, faults } = await open(organizer, 'section=access');
    const sheet = page.getByRole('form', { name: 'Sheet of links for a run group' });
    await sheet.getByLabel('Run group').selectOption({ label: 'Advanced' });
    await sheet.getByRole('button', { name: 'Make the links' }).click();
    await page.getByText('15 of 15 links are made.').waitFor();
    const links = await page.locator('.sheet code.key').allTextContents();
    expect(new Set(links).size).toBe(15);
    await page.emulateMedia({ media: 'print' });
    expect(await page.locator('nav.sections').isVisible()).toBe(false);
    expect(await page.locator('.sheet li').first().isVisible()).toBe(true);
    expect(faults).toEqual([]);
    await page.close();
  });

  test('grants a concession as chief within what the rules allow; it counts when a second person approves', async () => {
    const query = `section=entries&entry=${site.demo.barredEntryId}`;
    const { page, faults } = await open(chief, query);
    await page.getByRole('button', { name: 'Grant a concession' }).click();
    const form = page.getByRole('form', { name: 'Grant a concession' });
    await form
      .getByLabel('Rule', { exact: true })
      .selectOption({ label: 'Not met: Brake pad thickness for this group' });
    await form.getByLabel('Ends').fill('2090-01-01T10:00');
    await form.getByLabel('Why this car may run all the same').fill('Measured again at the line, even wear');
    await form.getByRole('button', { name: 'Grant a concession' }).click();
    await form.getByRole('button', { name: /Use the latest end/ }).click();
    await expectAccessible(page, 'concession refused');
    await form.getByRole('button', { name: 'Grant a concession' }).click();
    const card = page.locator('[data-state=awaiting-approval]');
    await card.waitFor();
    await card.getByRole('button', { name: 'Approve as second person' }).click();
    await card.getByRole('alert').waitFor();

    const second = await open(organizer, query);
    await second.page.getByRole('button', { name: 'Approve as second person' }).click();
    await second.page.locator('[data-state=in-force]').waitFor();
    const { body } = await get(`/v1/entries/${site.demo.barredEntryId}/concessions`);
    expect(body['concessions']).toMatchObject([
      { state: 'in-force', grantedBy: 'Jonas Aldergaard', approvedBy: 'Office desk' },
    ]);
    await second.page.getByRole('button', { name: 'Take the concession back' }).click();
    await second.page.getByLabel('Why it no longer counts').fill('A crack was found');
    await second.page.getByRole('button', { name: 'Take the concession back' }).click();
    await second.page.locator('[data-state=revoked]').waitFor();
    expect([...faults, ...second.faults]).toEqual([]);
    await page.close();
    await second.page.close();
  });

  test('keeps what was typed when somebody else changed the entry meanwhile', async () => {
    const list = await get(`/v1/events/${site.demo.eventId}/entries?carNumber=24`);
    const [entry] = list.body['entries'] as { entryId: string }[];
    const { page, faults } = await open(organizer, `section=entries&entry=${entry?.entryId}`);
    await page.getByRole('button', { name: 'Change the entry' }).click();
    await page.getByLabel('Telephone').fill('+49 30 901820');
    const call = apiClient(site.url);
    const path = `/v1/entries/${entry?.entryId}`;
    const { token, ifMatch } = { token: site.demo.tokens.organizer, ifMatch: (await get(path)).etag ?? '' };
    await call('PATCH', path, { token, ifMatch, body: { people: [{ name: 'Arvid Nygaard', role: 'crew' }] } });
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText('Somebody else saved a change meanwhile').waitFor();
    await expectAccessible(page, 'conflict');
    await page.getByRole('button', { name: 'Keep mine' }).click();
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText('The entry is saved.').waitFor();
    const { body } = await get(path);
    expect(body).toMatchObject({
      entrant: { phone: '+49 30 901820' },
      people: [{ name: 'Arvid Nygaard', role: 'crew' }],
    });
    expect(faults).toEqual([]);
    await page.close();
  });

  test('enters a car and withdraws it, by keyboard alone', async () => {
    const { page } = await open(organizer, 'section=overview');
    const press = async (name: string): Promise<void> => {
      for (let steps = 0; steps < 80; steps += 1) {
        const focused = await page.evaluate(() => document.activeElement?.textContent?.trim());
        if (focused === name) return page.keyboard.press('Enter');
        await page.keyboard.press('Tab');
      }
      throw new Error(`no way to ${name} by Tab`);
    };
    const type = async (label: string, value: string): Promise<void> => {
      const id = await page.getByLabel(label, { exact: true }).getAttribute('id');
      for (let steps = 0; steps < 40; steps += 1) {
        if ((await page.evaluate(() => document.activeElement?.id)) === id) return page.keyboard.type(value);
        await page.keyboard.press('Tab');
      }
      throw new Error(`no way to ${label} by Tab`);
    };
    await press('Entries');
    await press('New entry');
    await type('Car number', '91');
    await type('Entrant', 'Runa Halvorsen');
    await type('Description of the car', 'Coupé 2.5, 2012');
    await press('Enter the car');
    await page.getByRole('heading', { name: 'Car 91, Novice' }).waitFor();
    expect(await statusAtGate('91')).toBe('no-declaration');
    await press('Withdraw this entry');
    await press('Withdraw for good');
    await page.locator('[data-status=withdrawn]').waitFor();
    expect(await statusAtGate('91')).toBe('withdrawn');
    await page.close();
  });

  test('changes the days of the event only as the server allows, at the venue’s time', async () => {
    const { page, faults } = await open(organizer, 'section=event');
    const form = page.getByRole('form', { name: 'Dates and declaration window' });
    const before = (await get(`/v1/events/${site.demo.eventId}`)).body;
    await form.getByLabel('Last day').fill('2020-01-01');
    await form.getByRole('button', { name: 'Save' }).click();
    await expect.poll(() => form.getByLabel('Last day').getAttribute('aria-invalid')).toBe('true');
    await form.getByLabel('Last day').fill(String(before['endsOn']));
    await form.getByLabel('Days to keep personal data').fill('45');
    await form.getByRole('button', { name: 'Save' }).click();
    await page.getByText('The event is saved.').waitFor();
    const after = (await get(`/v1/events/${site.demo.eventId}`)).body;
    expect(after).toEqual({ ...before, retentionDays: 45 });
    expect(faults).toEqual([]);
    await page.close();
  });

  test('shows what other days do to signed-off cars, asks why, and only then changes them', async () => {
    const { page, faults } = await open(organizer, 'section=event');
    const path = `/v1/events/${site.demo.eventId}`;
    const before = (await get(path)).body;
    const later = (days: number) =>
      new Date(Date.parse(String(before['endsOn'])) + days * 86_400_000).toISOString().slice(0, 10);
    const form = page.getByRole('form', { name: 'Dates and declaration window' });
    const seen = page.getByRole('region', { name: 'What the other days do to cars that are signed off' });
    await form.getByLabel('First day').fill(later(30));
    await form.getByLabel('Last day').fill(later(31));
    await form.getByRole('button', { name: 'Save' }).click();
    await seen.locator('[data-count=line-again]').waitFor();
    await expectAccessible(page, 'the event form');
    // Nothing happened yet, and what is typed further takes the answer away.
    expect((await get(path)).body).toEqual(before);
    await form.getByLabel('First day').fill(String(before['startsOn']));
    await seen.waitFor({ state: 'detached' });
    await form.getByLabel('Last day').fill(later(1));
    await form.getByRole('button', { name: 'Save' }).click();
    await seen.locator('[data-count=follows]').waitFor();
    await seen.getByRole('button', { name: 'Change the days' }).click();
    await expect.poll(() => seen.getByLabel('Why do the days change?').getAttribute('aria-invalid')).toBe('true');
    await seen.getByLabel('Why do the days change?').fill('One more day');
    await seen.getByRole('button', { name: 'Change the days' }).click();
    await page.getByText('The event is saved.').waitFor();
    await seen.waitFor({ state: 'detached' });
    expect((await get(path)).body).toEqual({ ...before, endsOn: later(1) });
    const rows = (await get(`${path}/history?limit=200`)).body['history'] as { data: Record<string, unknown> }[];
    expect(rows.at(-1)?.data).toMatchObject({ to: { endsOn: later(1) }, reason: 'One more day' });
    // Answered by the server: pages may report a refusal in their console.
    expect(faults.filter((fault) => !fault.includes('422'))).toEqual([]);
    await page.close();
  });
});
