import { mkdirSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makePhoto } from '../support/photos.ts';
import {
  DESKTOP,
  expectAccessibleInBoth,
  expectReflow,
  expectTargets,
  hasChromium,
  leaveBrowser,
  openDevice,
  SMALLEST,
  startBrowser,
  watchPage,
} from './support/browser.ts';
import { type Site, startSite } from './support/site.ts';

const SHOTS = 'dist/screenshots';

describe.skipIf(!hasChromium())('the sheet for the workshop, and facts that the office confirms', () => {
  let site: Site;
  let browser: Browser;
  beforeAll(async () => {
    mkdirSync(SHOTS, { recursive: true });
    [site, browser] = await Promise.all([startSite(), startBrowser()]);
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await site.close();
  });

  const organizer = () => site.t.api('organizer');
  const shoot = (page: Page, name: string) => page.screenshot({ path: `${SHOTS}/${name}.png`, fullPage: true });

  test('more than five "not sure" lead to the sheet; its photo stands for the underside where the organizer allows it', async () => {
    const { eventId } = site.demo;
    const { body: groups } = await organizer().get(`/v1/events/${eventId}/run-groups`).expect(200);
    const [strict] = groups.runGroups;
    const { ruleSetId, ruleSetVersion, firstSessionAt, parameters } = strict;
    const allows = { ...parameters, workshopSheet: { value: true } };
    const { body: lenient } = await organizer()
      .post(`/v1/events/${eventId}/run-groups`)
      .send({ name: 'With a sheet', order: 9, ruleSetId, ruleSetVersion, firstSessionAt, parameters: allows })
      .expect(201);
    const enter = async (carNumber: string, runGroupId: string) => {
      const { body } = await organizer()
        .post(`/v1/events/${eventId}/entries`)
        .send({
          carNumber,
          runGroupId,
          entrant: { name: 'Ylva Brandt' },
          vehicle: { description: 'Hatchback 1.6, 2009', body: 'closed', powertrain: 'combustion' },
        })
        .expect(201);
      const entryId: string = body.entryId;
      const access = await site.t.mint('entrant', { holder: 'Ylva Brandt', entryId });
      return { entryId, access, token: access.token };
    };
    const [first, second] = [await enter('318', strict.runGroupId), await enter('319', lenient.runGroupId)];
    const phone = await openDevice(browser, { url: site.url, viewport: SMALLEST });
    const page = await phone.newPage();
    const faults = watchPage(page);
    await page.goto(`/garage#${first.token}`);
    await page.getByRole('button', { name: 'Sheet for the workshop' }).click();
    await page.locator('#workshop').waitFor();
    await page.getByText('This organizer wants the underside typed in').waitFor();
    await expectAccessibleInBoth(page, 'the workshop sheet');
    await expectReflow(page);
    await expectTargets(page, 44);
    await page.emulateMedia({ media: 'print' });
    const sheet = page.locator('.sheet');
    await sheet.waitFor();
    const said = await sheet.innerText();
    // nothing is said of the car before somebody looked, and no raw key stands on paper
    expect(said).toMatch(/Workshop sheet, car 318/);
    expect(said).toMatch(/Bushing condition/);
    expect(said).toMatch(/never under a jack alone/);
    expect(said).not.toMatch(/\b[a-z]+\.[a-z]+[-.@][a-z]|\bundefined\b|NaN|\{\w+\}|\dT\d\d:/u);
    await shoot(page, 'workshop-sheet');
    await page.emulateMedia({ media: 'screen' });

    // more than a few things that nobody knows: the sheet is offered where the declaration begins
    const unknown = [
      'caliper.boots',
      'caliper.seals',
      'suspension.fasteners',
      'spring.condition',
      'wheel.bent',
      'damper.leak',
    ];
    const answers = Object.fromEntries(unknown.map((key) => [key, { notSure: true }]));
    const own = site.t.api(first.access);
    await own.put(`/v1/entries/${first.entryId}/declaration`).set('if-match', '"0"').send({ answers }).expect(200);
    await page.goto('/garage');
    await page.getByText(/^\d+ times “not sure”: a workshop first$/).waitFor();
    await expectAccessibleInBoth(page, 'a workshop first');

    // where the organizer allows it
    const another = await (await openDevice(browser, { url: site.url, viewport: SMALLEST })).newPage();
    await another.goto(`/garage#${second.token}`);
    await another.locator('#walk').waitFor();
    await another.goto('/garage?workshop');
    await another.getByText('First take the photo.').waitFor();
    const photo = { name: 'sheet.jpg', mimeType: 'image/jpeg', buffer: await makePhoto() };
    await another.locator('input[type=file]').setInputFiles(photo);
    await another.locator('figure.photo').waitFor();
    await another.getByRole('button', { name: /^Let it stand for \d+ open questions$/ }).click();
    await another.getByText(/\d+ questions are left to the sheet and the line/).waitFor();
    await expectAccessibleInBoth(another, 'the sheet stands');
    await shoot(another, 'workshop-stands');
    const form = async () => (await organizer().get(`/v1/entries/${second.entryId}/form`).expect(200)).body;
    type Item = { key: string; saved?: unknown; missing: string[] };
    const bushings = async () => ((await form()).items as Item[]).find(({ key }) => key === 'bushing.condition');
    await expect.poll(async () => JSON.stringify((await bushings())?.saved), { timeout: 30_000 }).toContain('notSure');
    // it is never good: the line looks
    type Finding = { ruleId: string; result: string; counts: string };
    const found = ((await form()).findings as Finding[]).filter(({ ruleId }) => ruleId.startsWith('bushing'));
    expect(found.length).toBeGreaterThan(0);
    expect(found.map(({ result }) => result)).not.toContain('met');
    expect(faults).toEqual([]);
    await phone.close();
  });

  test('an organizer confirms on the page of the entry what the owner said of the car', async () => {
    const entryId = site.demo.walkEntryId;
    const entrant = await site.t.mint('entrant', { holder: 'Ruben Aalto', entryId });
    const { body: entry } = await organizer().get(`/v1/entries/${entryId}`).expect(200);
    const facts = `/v1/vehicles/${entry.vehicleId}/facts`;
    const said = [{ path: 'wheelNutTorqueNm', value: 118, origin: 'handbook' }];
    await site.t.api(entrant).patch(facts).send({ facts: said }).expect(200);
    const desk = await openDevice(browser, { url: site.url, viewport: DESKTOP, language: 'de', theme: 'dark' });
    const page = await desk.newPage();
    const faults = watchPage(page);
    await page.goto(`/office#${site.demo.tokens.organizer}`);
    await page.locator('nav.sections').waitFor();
    await page.goto(`/office?section=entries&entry=${entryId}`);
    const open = page.locator('[data-fact=wheelNutTorqueNm]');
    await open.getByText('118 N·m').waitFor();
    await expectAccessibleInBoth(page, 'a fact to confirm');
    await shoot(page, 'office-entry-fact-german-dark');
    await open.getByRole('button', { name: /Bestätigen/ }).click();
    await open.waitFor({ state: 'detached' });
    const { body: now } = await organizer().get(facts).expect(200);
    const known = (now.facts as { path: string }[]).find(({ path }) => path === 'wheelNutTorqueNm');
    expect(known).toMatchObject({ value: 118, origin: 'confirmed', isConfirmed: true });
    expect(faults).toEqual([]);
  });
});
