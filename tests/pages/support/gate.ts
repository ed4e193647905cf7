import type { Browser, BrowserContext, Page } from 'playwright-core';
import { openDevice, type PhoneOptions, watchPage } from './browser.ts';
import type { Site } from './site.ts';

export interface GateDevice {
  device: BrowserContext;
  page: Page;
  /** what the page said wrong */
  faults: string[];
}

/** A device of the gate, with access, its list loaded and its page kept for the time without a network. */
export async function openGateDevice(
  browser: Browser,
  site: Site,
  options: Partial<PhoneOptions> = {},
): Promise<GateDevice> {
  const device = await openDevice(browser, { url: site.url, ...options });
  const page = await device.newPage();
  const faults = watchPage(page);
  await page.goto(`/gate#${site.demo.tokens.marshal}`);
  await untilReady(page);
  return { device, page, faults };
}

/** Until the page has a list, contact, and a worker that would start it without a network. */
export async function untilReady(page: Page): Promise<void> {
  await contactIs(page, 'online');
  await page.locator('[data-fact="age"][data-old="false"]').waitFor();
  await page.evaluate(async () => {
    await navigator.serviceWorker.ready;
  });
}

/** Types a number on the keyboard, asks, chooses that very number where others are like it, and reads the answer. */
export async function askByKeyboard(page: Page, number: string): Promise<ShownAnswer> {
  await page.keyboard.type(number);
  await page.keyboard.press('Enter');
  const twins = page.locator('.twins');
  await twins.or(page.locator('.answer', { has: page.locator('.asked', { hasText: number }) })).waitFor();
  if (await twins.isVisible())
    await twins
      .getByRole('button')
      .filter({ has: numberIs(page, number) })
      .click();
  return readAnswer(page, number);
}

const numberIs = (page: Page, number: string) => page.locator('.number', { hasText: new RegExp(`^${number}$`) });

export interface ShownAnswer {
  kind: string;
  status: string;
  source: string;
}

/** The answer that is shown for a number. */
export async function readAnswer(page: Page, number: string): Promise<ShownAnswer> {
  const answer = page.locator('.answer', { has: page.locator('.asked', { hasText: number }) });
  await answer.waitFor();
  return answer.evaluate((shown) => ({
    kind: shown.getAttribute('data-kind') ?? '',
    status: shown.getAttribute('data-status') ?? '',
    source: shown.querySelector('.source')?.getAttribute('data-source') ?? '',
  }));
}

export const contactIs = (page: Page, contact: string): Promise<void> =>
  page.locator(`[data-fact="contact"][data-contact="${contact}"]`).waitFor();

/** Has the page look for the server now, instead of at its next turn. */
export const lookNow = (page: Page): Promise<boolean> => page.evaluate(() => dispatchEvent(new Event('online')));

/** Every number that is entered, as the server lists them. */
export async function enteredNumbers({ t, demo }: Site): Promise<string[]> {
  const { body } = await t.api('marshal').get(`/v1/events/${demo.eventId}/gate`).expect(200);
  return [...new Set((body.entries as { carNumber: string }[]).map(({ carNumber }) => carNumber))];
}

/** What the server that listens now says of a number. */
export async function serverSays({ url, demo }: Site, number: string): Promise<ServerAnswer> {
  const headers = { authorization: `Bearer ${demo.tokens.marshal}` };
  const answer = await fetch(`${url}/v1/events/${demo.eventId}/gate/${number}`, { headers });
  if (!answer.ok) throw new Error(`the gate answers ${answer.status}`);
  const { status, admit, reason } = (await answer.json()) as ServerAnswer;
  return { status, admit, reason };
}

interface ServerAnswer {
  status: string;
  admit: boolean;
  reason: string;
}

/** Holds the car of a number. @returns the id of the hold */
export async function holdCar({ t, demo }: Site, number: string, reason: string): Promise<string> {
  const { body: list } = await t.api('marshal').get(`/v1/events/${demo.eventId}/gate`).expect(200);
  const entry = (list.entries as { carNumber: string; entryId: string }[]).find((one) => one.carNumber === number);
  const { body } = await t.api('chief').post(`/v1/entries/${entry?.entryId}/holds`).send({ reason }).expect(201);
  return body.holdId;
}
