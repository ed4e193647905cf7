import { v7 as uuidV7 } from 'uuid';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { loadConfig } from '../../src/config.ts';
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
import { type Site, startSite } from './support/site.ts';

const PATIENCE = { timeout: 30_000 };
/** Where pictures go that a person wants to look at; nothing is drawn without. */
const PICTURES = process.env['PICTURES'];

describe.skipIf(!hasChromium())('the desk of the race office', () => {
  let site: Site;
  let browser: Browser;
  let desk: BrowserContext;

  beforeAll(async () => {
    [site, browser] = await Promise.all([startSite({ withJobs: true }), startBrowser()]);
    site.t.deps.config.mail = loadConfig({ MAIL: 'keep' }).mail;
    desk = await device(DESKTOP, 'en');
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await site.close();
  });

  async function device(viewport: typeof DESKTOP, language: 'en' | 'de'): Promise<BrowserContext> {
    const made = await openDevice(browser, { url: site.url, viewport, language });
    const page = await made.newPage();
    await page.goto(`/office#${site.demo.tokens.organizer}`);
    await page.locator('nav.sections').waitFor(PATIENCE);
    await page.close();
    return made;
  }

  async function open(query: string, from = desk): Promise<{ page: Page; faults: string[] }> {
    const page = await from.newPage();
    const faults = watchPage(page);
    await page.goto(`/office?${query}`);
    await page.locator('h2').last().waitFor(PATIENCE);
    return { page, faults };
  }

  async function looked(page: Page, name: string): Promise<void> {
    await expectAccessible(page, name);
    await expectReflow(page);
    await expectTargets(page, 44);
    if (PICTURES !== undefined) await page.screenshot({ path: `${PICTURES}/${name}.png`, fullPage: true });
  }

  const entryOf = (carNumber: string) =>
    site.t.deps.db.prisma.entry.findFirstOrThrow({ where: { carNumber, eventId: site.demo.eventId } });

  test('says whom to call first, and what helps at the line', async () => {
    const entry = await entryOf('21');
    const entrant = { ...(entry.entrant as object), phone: '+49 (0) 000 12' };
    await site.t.deps.db.prisma.entry.update({ where: { id: entry.id }, data: { entrant } });
    const { page, faults } = await open('section=overview');
    const call = page.locator('[data-call=not-declared]', { hasText: '21' }).first();
    await call.waitFor(PATIENCE);
    expect(await call.getByRole('link', { name: '+49 (0) 000 12' }).getAttribute('href')).toBe('tel:+49000012');
    expect(await page.locator('[data-people]').count()).toBe(3);
    await looked(page, 'desk-overview');
    expect(faults).toEqual([]);
    await page.close();
    const phone = await device(PHONE, 'de');
    const german = await open('section=overview', phone);
    await german.page.getByRole('heading', { name: /^Wen jetzt anrufen/ }).waitFor(PATIENCE);
    await german.page.getByRole('heading', { name: 'Was an der Abnahme hilft' }).waitFor();
    await looked(german.page, 'desk-overview-phone-de');
    await phone.close();
  });

  test('types a declaration for somebody without a phone, and keeps who typed it', async () => {
    const { id } = await entryOf('21');
    const { page, faults } = await open(`section=entries&entry=${id}`);
    await page.getByRole('link', { name: 'Type the declaration with the entrant' }).click();
    await page.locator('.car-number').getByText('21').waitFor(PATIENCE);
    await page.getByText('Whoever types does not sign this car off').waitFor();
    await looked(page, 'desk-declare');
    await page.getByRole('button', { name: 'Check and send' }).click();
    await page.getByRole('button', { name: 'Submit', exact: true }).click();
    const dialog = page.getByRole('dialog', { name: 'Submit the declaration?' });
    await dialog.getByLabel('Ines Haldorsen').check();
    await dialog.getByRole('button', { name: 'Submit now' }).click();
    await page.getByRole('heading', { name: /^To the line/ }).waitFor(PATIENCE);
    await page.getByRole('link', { name: 'Back to the entry' }).click();
    await page.getByText('Typed by Office desk.').waitFor(PATIENCE);
    expect(new URL(page.url()).searchParams.get('entry')).toBe(id);
    expect(faults).toEqual([]);
    await page.close();
  });

  test('takes personal data along, says until when it is kept, and erases the people of a withdrawn entry', async () => {
    const { id } = await entryOf('33');
    const { page, faults } = await open(`section=entries&entry=${id}`);
    await page.getByRole('button', { name: 'Change the entry' }).click();
    await page.getByLabel('Language of messages').selectOption('de');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await expect.poll(async () => (await entryOf('33')).entrant, PATIENCE).toMatchObject({ language: 'de' });
    const file = page.waitForEvent('download', PATIENCE);
    await page.getByRole('button', { name: 'Download all of it' }).click();
    expect((await file).suggestedFilename()).toBe('entry-33.json');
    const withdraw = await site.t.api('organizer').post(`/v1/entries/${id}/withdraw`).send({});
    expect(withdraw.status).toBe(200);
    await page.reload();
    await page.getByRole('button', { name: /^Erase the people/ }).click(PATIENCE);
    await page.getByLabel('Reason').fill('Asked for it');
    await page.getByLabel(/^Also before the event is over/).check();
    await looked(page, 'desk-erase');
    await page.getByRole('button', { name: 'Erase them for good' }).click();
    await page.locator('[data-erased]').waitFor(PATIENCE);
    expect((await entryOf('33')).entrant).toEqual({ name: 'erased' });
    expect(faults).toEqual([]);
    await page.close();
  });

  test('shows who works, tries a failed job again, and says that no backups are kept', async () => {
    const data = { name: 'mail.send', payload: { mailId: uuidV7() }, publishedAt: new Date(), failedAt: new Date() };
    await site.t.deps.db.prisma.outbox.create({ data: { ...data, lastError: 'no conversation with the mail server' } });
    const { page, faults } = await open('section=service');
    await page.locator('[data-queue]').waitFor(PATIENCE);
    const failed = page.locator('[data-job="mail.send"]');
    await failed.getByText('no conversation with the mail server').waitFor();
    await page.locator('[data-backups=off]').waitFor();
    await looked(page, 'desk-service');
    await failed.getByRole('button', { name: 'Try again' }).click();
    await page.getByText('It is tried again: Send a message.').waitFor(PATIENCE);
    await expect.poll(() => failed.count(), PATIENCE).toBe(0);
    await page.getByRole('button', { name: 'Check the history' }).click();
    await page.locator('[data-intact=true]').waitFor(PATIENCE);
    expect(faults).toEqual([]);
    await page.close();
    const phone = await device(PHONE, 'de');
    const german = await open('section=service', phone);
    await german.page.getByRole('heading', { name: 'Sicherungen' }).waitFor(PATIENCE);
    await looked(german.page, 'desk-service-phone-de');
    await phone.close();
  });

  test('writes to entrants, which can be read, and changes a text with a preview', async () => {
    const { id, entrant } = await entryOf('12');
    const reached = { ...(entrant as object), email: 'entrant12@example.org' };
    await site.t.deps.db.prisma.entry.update({ where: { id }, data: { entrant: reached } });
    const { page, faults } = await open('section=mail');
    await page.locator('[data-mode=keep]').waitFor(PATIENCE);
    await page.getByLabel('What', { exact: true }).selectOption('note');
    await page.getByLabel('Subject').first().fill('Rain tomorrow');
    await page.getByLabel('Text', { exact: true }).first().fill('Bring tyres for the wet.');
    await page.getByRole('button', { name: 'Write', exact: true }).click();
    const kept = page.locator('[data-mail=kept]').first();
    await kept.waitFor(PATIENCE);
    await kept.getByRole('button', { name: 'Read' }).click();
    await page.locator('[data-letter]').getByText('Bring tyres for the wet.').waitFor(PATIENCE);
    const texts = page.getByRole('form', { name: 'Texts' });
    await texts.getByLabel('Subject').fill('Car {number}, please declare');
    await texts.getByRole('button', { name: 'Preview' }).click();
    await texts
      .locator('[data-preview] h4')
      .getByText(/^Car \d+, please declare$/)
      .waitFor(PATIENCE);
    await looked(page, 'desk-mail');
    await texts.getByRole('button', { name: 'Save text' }).click();
    await page.getByText('Changed by Office desk.').waitFor(PATIENCE);
    expect(faults).toEqual([]);
    await page.close();
    const phone = await device(PHONE, 'de');
    const german = await open('section=mail', phone);
    await german.page.locator('[data-mail]').first().waitFor(PATIENCE);
    await looked(german.page, 'desk-mail-phone-de');
    await phone.close();
  });

  test('names an instrument of the line with how far it may be off', async () => {
    const { page, faults } = await open('section=event');
    const form = page.getByRole('form', { name: 'Instruments of the line' });
    await form.getByRole('button', { name: 'Add an instrument' }).click(PATIENCE);
    const row = form.getByRole('group', { name: 'New instrument' });
    await row.getByLabel('May be off by ±').fill('0,05');
    await row.getByLabel('Name').fill('Gauge 7');
    await looked(page, 'desk-instruments');
    await form.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText('Instruments saved.').waitFor(PATIENCE);
    const { body } = await site.t.api('organizer').get(`/v1/events/${site.demo.eventId}`);
    expect(body.instruments).toContainEqual(
      expect.objectContaining({ name: 'Gauge 7', uncertainty: 0.05, unit: 'mm' }),
    );
    expect(faults).toEqual([]);
    await page.close();
  });
});
