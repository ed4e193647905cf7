import { readFileSync } from 'node:fs';
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

const EXAMPLE = readFileSync(new URL('../../seed/example-rule-set.yaml', import.meta.url), 'utf8');

describe.skipIf(!hasChromium())('rules in the race office', () => {
  let site: Site;
  let browser: Browser;
  let device: BrowserContext;
  const get = (path: string): Promise<ApiAnswer> =>
    apiClient(site.url)('GET', path, { token: site.demo.tokens.organizer });

  beforeAll(async () => {
    [site, browser] = await Promise.all([startSite({ withJobs: true }), startBrowser()]);
    device = await openDevice(browser, { url: site.url, viewport: DESKTOP });
    const page = await device.newPage();
    await page.goto(`/office#${site.demo.tokens.organizer}`);
    await page.locator('nav.sections').waitFor();
    await page.close();
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await site.close();
  });

  async function open(query: string): Promise<{ page: Page; faults: string[] }> {
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/office?${query}`);
    await page.locator('h2').waitFor();
    return { page, faults };
  }

  /** Over all that is there. */
  async function write(page: Page, text: string): Promise<void> {
    await page.locator('.cm-content').click();
    await page.keyboard.press('Control+A');
    await page.keyboard.insertText(text);
  }

  async function builtIn(): Promise<string> {
    const sets = (await get('/v1/rule-sets')).body['ruleSets'] as { ruleSetId: string }[];
    return sets[0]?.ruleSetId ?? '';
  }

  test('shows a fault at its line while one types, keeps the text over a reload, saves and publishes', async () => {
    const { page, faults } = await open('section=rules');
    await page.getByText('New rule set').click();
    await page.getByLabel('Name', { exact: true }).fill('Club day, example');
    await page.getByRole('button', { name: 'Create it' }).click();
    await page.locator('.cm-content').waitFor();

    const broken = EXAMPLE.replace('padMinimum }', 'padMinimun }');
    const line = broken.split('\n').findIndex((text) => text.includes('padMinimun')) + 1;
    await write(page, broken);
    const fault = page.locator(`.faults li[data-line="${line}"]`);
    await fault.waitFor();
    expect(await fault.textContent()).toContain('padMinimun');
    await fault.getByRole('button').click();
    await page.locator('.cm-activeLine', { hasText: 'padMinimun' }).waitFor();
    await page.locator('.cm-lintRange-error').first().waitFor();
    expect(await page.getByRole('button', { name: 'Publish a version' }).getAttribute('aria-disabled')).toBe('true');
    await expectAccessible(page, 'editor with a fault');

    await page.reload();
    await page.locator('.cm-content').waitFor();
    await page.locator(`.faults li[data-line="${line}"]`).waitFor();
    await page.getByText('There are changes that are not saved').waitFor();
    await write(page, EXAMPLE);
    await page.getByText('No fault found').waitFor();
    await page.getByRole('button', { name: 'Save the draft' }).click();
    await page.getByText('The draft is saved.').waitFor();

    await page.getByRole('button', { name: 'Publish a version' }).click();
    const changelog = page.getByLabel('What is different');
    await expect.poll(() => changelog.getAttribute('aria-invalid')).toBe('true');
    await changelog.fill('The first version');
    await page.getByRole('button', { name: 'Publish a version' }).click();
    await page.locator('[data-version="1"]', { hasText: 'The first version' }).waitFor();
    const id = new URL(page.url()).searchParams.get('ruleSet');
    expect((await get(`/v1/rule-sets/${id}/versions`)).body['versions']).toMatchObject([
      { version: 1, changelog: 'The first version' },
    ]);
    await page.getByRole('button', { name: 'Retire version 1' }).click();
    await page.getByLabel('Why nothing new may be judged by it').fill('Only an example');
    await page.getByRole('button', { name: 'Retire version 1' }).click();
    await page.getByText('Only an example').waitFor();
    expect(faults).toEqual([]);
    await page.close();
  });

  test('tells that somebody else saved the draft, and loses neither text', async () => {
    const ruleSetId = await builtIn();
    const { page, faults } = await open(`section=rules&ruleSet=${ruleSetId}`);
    await page.locator('.cm-content').waitFor();
    const draft = await get(`/v1/rule-sets/${ruleSetId}`);
    const theirs = { ...(draft.body['document'] as object), description: 'Saved by somebody else' };
    const { token } = { token: site.demo.tokens.organizer };
    await apiClient(site.url)('PUT', `/v1/rule-sets/${ruleSetId}`, {
      token,
      ifMatch: draft.etag ?? '',
      body: { name: 'Built-in track-day rules', document: theirs },
    });
    await page.locator('.cm-content').click();
    await page.keyboard.press('Control+Home');
    await page.keyboard.insertText('# mine\n');
    await page.getByRole('button', { name: 'Save the draft' }).click();
    await page.getByText('Somebody else saved this draft meanwhile').waitFor();
    await page.getByText('Show what was saved').click();
    await page.locator('pre', { hasText: 'Saved by somebody else' }).waitFor();
    await expectAccessible(page, 'draft conflict');
    await page.getByRole('button', { name: 'Keep mine' }).click();
    await page.getByRole('button', { name: 'Save the draft' }).click();
    await page.getByText('The draft is saved.').waitFor();
    const document = (await get(`/v1/rule-sets/${ruleSetId}`)).body['document'] as { description: string };
    expect(document.description).not.toContain('Saved by somebody else');
    expect(faults).toEqual([]);
    await page.close();
  });

  test('tries stricter rules on the event, moves a group to them after the preview, and judges it anew', async () => {
    const ruleSetId = await builtIn();
    const { page, faults } = await open(`section=rules&ruleSet=${ruleSetId}`);
    await page.getByLabel('Written as').selectOption('json');
    await page.locator('.cm-content', { hasText: '"name":' }).waitFor();
    const draft = (await get(`/v1/rule-sets/${ruleSetId}`)).body['document'] as {
      parameters: Record<string, { value: unknown }>;
      rules: { id: string; effect: string }[];
      examples: unknown[];
    };
    // Advice becomes a bar, which its own examples would contradict.
    for (const rule of draft.rules) if (rule.id === 'pad-wear-even') rule.effect = 'bar';
    draft.examples = [];
    await write(page, JSON.stringify(draft, null, 2));
    await page.getByText('No fault found').waitFor();
    await page.getByRole('button', { name: 'Save the draft' }).click();
    await page.getByText('The draft is saved.').waitFor();

    await page.getByRole('button', { name: 'Start a trial' }).click();
    await page.locator('[data-trial] [data-state=done]').waitFor({ timeout: 30_000 });
    const [trial] = (await get(`/v1/rule-sets/${ruleSetId}/trials`)).body['trials'] as { trialId: string }[];
    const result = (await get(`/v1/trials/${trial?.trialId}`)).body['result'] as {
      totals: { judged: number; flipped: number };
      flips: { carNumber: string }[];
    };
    const { judged, flipped } = result.totals;
    await page.getByText(`${flipped} of ${judged} cars would be judged otherwise.`).waitFor();
    await expectAccessible(page, 'trial result');
    await page.getByLabel('What is different').fill('Uneven pads bar');
    await page.getByRole('button', { name: 'Publish a version' }).click();
    await page.locator('[data-version="2"]').waitFor();

    await page.getByRole('link', { name: 'All rules' }).click();
    await page.getByRole('link', { name: 'Novice Version 1' }).click();
    await page.getByLabel('Version', { exact: true }).fill('2');
    await page.getByRole('button', { name: 'Show who would change' }).click();
    await page.locator('[data-preview]').waitFor();
    await expectAccessible(page, 'preview');
    await page.getByRole('button', { name: 'Move the group to these rules' }).click();
    await page.getByText('Judged by version 2').waitFor();
    await page.getByLabel('Why, for history, entrants and gate').fill('Uneven pads after session 1');
    await page.getByRole('button', { name: 'Judge anew now' }).click();
    await page.locator('[data-state=done]').waitFor({ timeout: 30_000 });
    await page.getByRole('row', { name: /^12 judged anew/ }).waitFor();
    const rule = page.getByRole('row').filter({ hasText: 'pad-wear-even' });
    expect(await rule.locator('td').first().textContent()).toBe('Bars');
    expect(faults).toEqual([]);
    await page.close();
  });
});
