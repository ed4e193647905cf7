import { existsSync } from 'node:fs';
import axe from 'axe-core';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';
import { expect } from 'vitest';

export const CHROMIUM_SKIPPED = 'SKIPPED: chromium not found';
/** The one without a window needs half the time of the others, which draw the frame around each page too. */
const PLACES = [
  process.env['CHROMIUM'],
  '/usr/bin/chromium-headless-shell',
  '/usr/bin/chromium',
  '/usr/bin/chromium-browser',
  '/usr/bin/google-chrome',
];
const ARGUMENTS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

export const PHONE = { width: 390, height: 844 };
export const SMALLEST = { width: 320, height: 640 };
export const DESKTOP = { width: 1280, height: 900 };

const findChromium = (): string | undefined => PLACES.find((path) => path !== undefined && existsSync(path));

/** Whether this machine can run the tests of the pages; says so when it cannot. */
export function hasChromium(): boolean {
  if (findChromium() !== undefined) return true;
  process.stdout.write(`${CHROMIUM_SKIPPED}\n`);
  return false;
}

let running: Promise<Browser> | undefined;

/** The browser of this worker: files that follow each other use the same one, and end with `leaveBrowser`. */
export async function startBrowser(): Promise<Browser> {
  const known = await running?.catch(() => undefined);
  if (known?.isConnected() === true) return known;
  const executablePath = findChromium();
  if (executablePath === undefined) throw new Error(CHROMIUM_SKIPPED);
  running = chromium.launch({ executablePath, headless: true, args: ARGUMENTS });
  return running;
}

/** Closes every device of this file; the browser ends with the worker. */
export async function leaveBrowser(browser: Browser): Promise<void> {
  for (const device of browser.contexts()) await device.close();
}

export interface PhoneOptions {
  url: string;
  viewport?: { width: number; height: number };
  language?: 'en' | 'de';
  theme?: 'light' | 'dark';
  reducedMotion?: boolean;
}

/** A device of its own: storage, service workers and cookies are shared with no other. */
export async function openDevice(browser: Browser, options: PhoneOptions): Promise<BrowserContext> {
  const { url, viewport = PHONE, language = 'en', theme = 'light', reducedMotion = false } = options;
  const context = await browser.newContext({
    baseURL: url,
    viewport,
    locale: language === 'de' ? 'de-DE' : 'en-GB',
    hasTouch: viewport.width < 800,
    reducedMotion: reducedMotion ? 'reduce' : 'no-preference',
  });
  context.setDefaultTimeout(60_000);
  await context.addInitScript((chosen) => localStorage.setItem('gridworthy.theme', chosen), theme);
  return context;
}

/** Everything that a page said wrong: uncaught errors and refusals of the Content-Security-Policy. To be empty at the end. */
export function watchPage(page: Page): string[] {
  const faults: string[] = [];
  page.on('pageerror', (error) => faults.push(error.message));
  page.on('console', (message) => {
    const text = message.text();
    if (message.type() === 'error' && /Content.Security.Policy|Uncaught/i.test(text)) faults.push(text);
  });
  return faults;
}

const AXE_TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

/** Rules whose outcome depends on colours; the others say the same in light and dark. */
const OF_COLOURS = ['color-contrast', 'link-in-text-block'];

/** Holds what a page shows now against WCAG 2.2 AA by axe-core; the pages have no frames. */
export async function expectAccessible(page: Page, state: string): Promise<void> {
  const { broken, held } = await runAxe(page, { type: 'tag', values: AXE_TAGS });
  expect(broken, state).toEqual([]);
  expect(held, `rules that found something to look at: ${state}`).toBeGreaterThan(10);
}

/** Holds what is shown against WCAG 2.2 AA as it is, and its colours in the other display too. */
export async function expectAccessibleInBoth(page: Page, state: string): Promise<void> {
  await expectAccessible(page, state);
  const shown = await page.evaluate(() => document.documentElement.dataset['theme']);
  const other = shown === 'dark' ? 'light' : 'dark';
  await showTheme(page, other);
  const { broken, held } = await runAxe(page, { type: 'rule', values: OF_COLOURS });
  expect(broken, `${state}, ${other}`).toEqual([]);
  expect(held, `texts to look at: ${state}, ${other}`).toBeGreaterThan(0);
  await showTheme(page, shown ?? 'light');
}

const showTheme = (page: Page, theme: string): Promise<string> =>
  page.evaluate((chosen) => (document.documentElement.dataset['theme'] = chosen), theme);

async function runAxe(page: Page, runOnly: axe.RunOnly): Promise<{ broken: string[]; held: number }> {
  // Evaluated past the Content-Security-Policy, once per document: the program is half a megabyte.
  if (!(await page.evaluate(() => 'axe' in window))) await page.evaluate(axe.source);
  return page.evaluate(async (asked) => {
    const { axe: here } = window as unknown as { axe: typeof axe };
    // Of what is in order only one example of each rule is described: describing is most of the work.
    const found = await here.run(document, { runOnly: asked, resultTypes: ['violations'] });
    const broken = found.violations.flatMap(({ id, nodes }) =>
      nodes.map((node) => `${id}: ${node.html.slice(0, 160)}`),
    );
    return { broken, held: found.passes.length };
  }, runOnly);
}

/** Every control that can be hit is at least this many CSS pixels wide and high (WCAG 2.5.5: 44). */
export async function expectTargets(page: Page, least: number, within = 'body'): Promise<void> {
  const small = await page.locator(within).evaluate((root, minimum) => {
    const controls = root.querySelectorAll<HTMLElement>(
      'button, a[href], input, select, textarea, summary, [role=button]',
    );
    return [...controls].flatMap((control) => {
      const label = control.closest('label');
      const boxes = [control, ...(label === null ? [] : [label])].map((one) => one.getBoundingClientRect());
      const { width, height } = boxes[0] as DOMRect;
      // Hidden ones cannot be hit; links within a sentence are excused by 2.5.5 itself.
      if (width <= 1 || height <= 1 || getComputedStyle(control).display === 'inline') return [];
      const fits = boxes.some((box) => Math.round(box.width) >= minimum && Math.round(box.height) >= minimum);
      return fits ? [] : [`${control.outerHTML.slice(0, 120)} ${Math.round(width)}x${Math.round(height)}`];
    });
  }, least);
  expect(small).toEqual([]);
}

/** Nothing sticks out sideways: no scrolling in two directions at this width (WCAG 1.4.10). */
export async function expectReflow(page: Page): Promise<void> {
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  expect(wide).toBeLessThanOrEqual(0);
}
