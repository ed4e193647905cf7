import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { apiClient } from '../../seed/demo/api-client.ts';
import {
  DESKTOP,
  expectAccessible,
  expectAccessibleInBoth,
  expectReflow,
  expectTargets,
  hasChromium,
  openDevice,
  SMALLEST,
  leaveBrowser,
  startBrowser,
  watchPage,
} from './support/browser.ts';
import { type Site, startSite } from './support/site.ts';

const SIZES = { small: SMALLEST, desktop: DESKTOP };
const LEAST_TARGET = 44;
const SHOTS = 'dist/screenshots';
/** Names of texts, values as programs write them, instants. A rule set's own text is YAML, with names in it. */
const RAW = /\{\w+\}|\b[a-z]+\.[a-z]+[A-Z]\w*\b|\dT\d\d:\d\d|\bundefined\b|\bNaN\b|\[object|: \.$/u;
/** The words that a template of a message may have, which stand below it. */
const TEMPLATE_WORDS = /^(?:Words|Wörter): \{name\}/u;
const PATIENCE = { timeout: 20_000 };

describe.skipIf(!hasChromium())('the look of the race office', () => {
  let site: Site;
  let browser: Browser;
  let places: Record<string, string>;

  beforeAll(async () => {
    [site, browser] = await Promise.all([startSite(), startBrowser()]);
    const call = apiClient(site.url);
    const { token } = { token: site.demo.tokens.organizer };
    const sets = (await call('GET', '/v1/rule-sets', { token })).body['ruleSets'] as { ruleSetId: string }[];
    const groups = await call('GET', `/v1/events/${site.demo.eventId}/run-groups`, { token });
    const [group] = groups.body['runGroups'] as { runGroupId: string }[];
    places = {
      overview: 'section=overview',
      entries: 'section=entries',
      entry: `section=entries&entry=${site.demo.barredEntryId}`,
      import: 'section=import',
      print: 'section=print',
      access: 'section=access',
      rules: 'section=rules',
      'rule set': `section=rules&ruleSet=${sets[0]?.ruleSetId}`,
      'rules of a group': `section=rules&group=${group?.runGroupId}`,
      event: 'section=event',
      mail: 'section=mail',
      service: 'section=service',
      start: 'section=start',
    };
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await site.close();
  });

  /** Texts that end where their box does (what is typed can be moved in its field), and what is only for programs. */
  async function spoilt(page: Page): Promise<string[]> {
    const cut = await page.evaluate(() =>
      [...document.querySelectorAll<HTMLElement>('body *')]
        .filter((one) => {
          // on a phone nothing lies beside the screen, not even where it could be scrolled to
          if (innerWidth < 640 && one.matches('.scroll') && one.scrollWidth > one.clientWidth + 1) return true;
          const { overflowX, textOverflow } = getComputedStyle(one);
          const isClosed = overflowX === 'hidden' || overflowX === 'clip' || textOverflow === 'ellipsis';
          const isSeen =
            one.clientWidth > 1 && !one.matches('input') && one.checkVisibility() && !one.classList.contains('unseen');
          return isSeen && isClosed && one.scrollWidth > one.clientWidth + 1;
        })
        .map((one) => `cut: ${one.outerHTML.slice(0, 140)}`),
    );
    const said = (await page.locator('body').innerText()).split('\n');
    return [
      ...cut,
      ...said
        .filter((line) => RAW.test(line) && !TEMPLATE_WORDS.test(line))
        .map((line) => `raw: ${line.slice(0, 140)}`),
    ];
  }

  /** Everything read that a section reads. */
  async function settled(page: Page): Promise<void> {
    await page.locator('nav.sections').waitFor(PATIENCE);
    await expect
      .poll(() => page.locator('main p[role=status]', { hasText: /^(Loading|Lädt)/ }).count(), PATIENCE)
      .toBe(0);
    if (page.url().includes('ruleSet=')) await page.locator('.cm-content').waitFor({ timeout: 30_000 });
  }

  test.each([
    ['small', 'de', 'accessible in light and dark'],
    ['small', 'en', 'in dark'],
    ['desktop', 'en', 'accessible in light and dark'],
    ['desktop', 'de', 'in dark'],
  ] as const)('%s, %s: big enough to hit, nothing sticks out, %s', async (size, language, looked) => {
    const theme = looked === 'in dark' ? 'dark' : 'light';
    const device = await openDevice(browser, { url: site.url, viewport: SIZES[size], theme, language });
    const page = await device.newPage();
    const faults = watchPage(page);
    const bad: string[] = [];
    await page.goto(`/office#${site.demo.tokens.organizer}`);
    await page.locator('nav.sections').waitFor(PATIENCE);
    for (const [name, query] of Object.entries(places)) {
      await page.goto(`/office?${query}`);
      await settled(page);
      // What a program can tell of a page is the same in both languages; what fits is not.
      if (theme === 'light') await expectAccessibleInBoth(page, `${name} ${size}`);
      await expectTargets(page, LEAST_TARGET);
      await expectReflow(page);
      bad.push(...(await spoilt(page)).map((one) => `${name}: ${one}`));
      await page.screenshot({
        path: `${SHOTS}/office-${name.replaceAll(' ', '-')}-${size}-${language}.png`,
        fullPage: true,
      });
    }
    expect(bad).toEqual([]);
    expect(faults).toEqual([]);
    await device.close();
  });

  test('is for organizers and chiefs only, and says so', async () => {
    const device = await openDevice(browser, { url: site.url });
    const page = await device.newPage();
    await page.goto(`/office#${site.demo.tokens.marshal}`);
    await page.getByText('This page is for organizers and chief inspectors.').waitFor();
    await expectAccessible(page, 'another role');
    await device.close();
  });

  test('shows a chief what a chief may do', async () => {
    const device = await openDevice(browser, { url: site.url, viewport: DESKTOP });
    const page = await device.newPage();
    await page.goto(`/office#${site.demo.tokens.chief}`);
    await page.locator('nav.sections').waitFor();
    expect(await page.locator('nav.sections a').allTextContents()).toEqual([
      'Overview',
      'Entries',
      'Line',
      'Print',
      'Access',
      'Rules',
      'How good were we',
    ]);
    await page.getByRole('link', { name: 'Entries' }).click();
    await page.getByText(/^50 entries$/).waitFor();
    await page.getByLabel('Status').selectOption('held');
    await page.getByText(/^3 entries$/).waitFor();
    await page.goBack();
    await page.getByRole('heading', { name: 'Overview', level: 2 }).waitFor();
    await device.close();
  });
});
