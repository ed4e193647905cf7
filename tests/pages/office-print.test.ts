import { readFile } from 'node:fs/promises';
import { getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { DESKTOP, hasChromium, leaveBrowser, openDevice, startBrowser } from './support/browser.ts';
import { type Site, startSite } from './support/site.ts';

const PATIENCE = { timeout: 30_000 };

describe.skipIf(!hasChromium())('the office prints', () => {
  let site: Site;
  let browser: Browser;
  beforeAll(async () => {
    [site, browser] = await Promise.all([startSite(), startBrowser()]);
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await site.close();
  });

  const words = (text: string) => text.replaceAll(/\s+/g, '');

  async function pagesOf(bytes: Uint8Array) {
    const document = await getDocument({ data: new Uint8Array(bytes), verbosity: 0 }).promise;
    const pages = [];
    for (let number = 1; number <= document.numPages; number += 1) {
      const page = await document.getPage(number);
      const { items } = await page.getTextContent();
      const [, , width = 0, height = 0] = page.view;
      pages.push({ width, height, text: words(items.map((item) => ('str' in item ? item.str : '')).join('')) });
    }
    return pages;
  }

  async function choose(page: Page, label: string, value: string): Promise<void> {
    await page.getByLabel(label, { exact: true }).selectOption(value);
    await page.locator('.sheet.paper').waitFor(PATIENCE);
  }

  test('a PDF is taken along with the same words, on the paper chosen, an empty sheet too', async () => {
    const device = await openDevice(browser, { url: site.url, ...DESKTOP });
    const page = await device.newPage();
    await page.goto(`/office?section=print&event=${site.demo.eventId}#${site.demo.tokens.organizer}`);
    await page.locator('.sheet.paper').waitFor(PATIENCE);
    await choose(page, 'Sheet', 'inspection');
    await choose(page, 'Paper', 'letter');
    await choose(page, 'Answers', 'without');
    await page.getByText('To be filled in by hand').waitFor(PATIENCE);
    const cells = await page.locator('.sheet.paper tbody td:first-child').allInnerTexts();
    const waiting = page.waitForEvent('download');
    await page.getByRole('button', { name: 'Take along as PDF' }).click();
    const download = await waiting;
    expect(download.suggestedFilename()).toMatch(/^inspection-\d{4}-\d\d-\d\d\.pdf$/);
    const pages = await pagesOf(await readFile(await download.path()));
    // ANSI/ASME Y14.1: 8.5 in by 11 in.
    expect(pages[0]).toMatchObject({ width: 612, height: 792 });
    const all = pages.map(({ text }) => text).join('');
    for (const cell of cells) expect(all).toContain(words(cell));
    await device.close();
  });
});
