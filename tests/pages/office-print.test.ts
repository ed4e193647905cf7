import { readFile } from 'node:fs/promises';
import { getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs';
import type { Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import { DESKTOP, hasChromium, openDevice } from './support/browser.ts';
import { browser, site, useSite } from './support/site.ts';

const PATIENCE = { timeout: 30_000 };

describe.skipIf(!hasChromium())('the office prints', () => {
  useSite();

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
    await page.locator('.printed-sheet').waitFor(PATIENCE);
  }

  test('a PDF is taken along with the same words, on the paper chosen, an empty sheet too', async () => {
    const device = await openDevice(browser, { url: site.url, ...DESKTOP });
    const page = await device.newPage();
    await page.goto(`/office?section=print&event=${site.demo.eventId}#${site.demo.tokens.organizer}`);
    await page.locator('.printed-sheet').waitFor(PATIENCE);
    await choose(page, 'Sheet', 'inspection');
    await choose(page, 'Paper', 'letter');
    await choose(page, 'Answers', 'without');
    await page.getByText('To be filled in by hand').waitFor(PATIENCE);
    const cells = await page.locator('.printed-sheet tbody td:first-child').allInnerTexts();
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

  test('the browser prints the sheet and nothing else, on the paper chosen, from its first page on', async () => {
    const device = await openDevice(browser, { url: site.url, ...DESKTOP });
    const page = await device.newPage();
    await page.goto(`/office?section=print&event=${site.demo.eventId}#${site.demo.tokens.organizer}`);
    await page.locator('.printed-sheet').waitFor(PATIENCE);
    await choose(page, 'Sheet', 'rescue');
    const title = page.getByRole('heading', { name: 'Rescue sheet: electric, hybrid and gas cars' });
    await title.waitFor(PATIENCE);
    // side by side with its text the table would be a few characters wide
    const [sheet, table] = await Promise.all(
      ['.printed-sheet', '.printed-sheet table'].map((part) => page.locator(part).first().boundingBox()),
    );
    expect(table?.width ?? 0).toBeGreaterThan((sheet?.width ?? 0) * 0.8);
    // ISO 216: A4 is 210 mm by 297 mm, that is 595 by 842 points of 1/72 in; ANSI/ASME Y14.1: 8.5 in by 11 in.
    for (const [paper, width, height] of [
      ['a4', 595, 842],
      ['letter', 612, 792],
    ] as const) {
      await choose(page, 'Paper', paper);
      const [first] = await pagesOf(await page.pdf({ preferCSSPageSize: true }));
      expect([first?.width, first?.height].map((side) => Math.round(side ?? 0))).toEqual([width, height]);
      expect(first?.text.startsWith(words(await title.innerText()))).toBe(true);
    }
    await device.close();
  });
});
