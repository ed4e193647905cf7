import type { Browser, BrowserContext, Page } from 'playwright-core';
import { openDevice, type PhoneOptions, watchPage } from './browser.ts';
import { serverSays } from './gate.ts';
import type { Site } from './site.ts';

/** A person at the tech line with a device of his own. */
export interface AtLine {
  device: BrowserContext;
  page: Page;
  /** to be empty at the end */
  faults: string[];
}

/** Opens the inspector's page with a token; without one, with that of the demo's inspector. */
export async function openLine(
  browser: Browser,
  site: Site,
  options: Partial<PhoneOptions> & { token?: string } = {},
): Promise<AtLine> {
  const { token = site.demo.tokens.inspector, ...others } = options;
  const device = await openDevice(browser, { url: site.url, ...others });
  const page = await device.newPage();
  const faults = watchPage(page);
  await page.goto(`/line#${token}`);
  await page.locator('.tickets li').first().waitFor();
  return { device, page, faults };
}

/** Takes a car by its number, as one does at the line. */
export async function takeCar(page: Page, number: string): Promise<void> {
  await page.getByLabel('Car number').fill(number);
  await page.getByRole('button', { name: 'Take', exact: true }).first().click();
  await page.getByRole('heading', { name: `Car ${number}`, exact: true }).waitFor();
}

/** Marks what is looked at on every car, and everything that a rule asks for. */
export async function markFirst(page: Page): Promise<void> {
  const rows = page.locator(
    'section:is([aria-labelledby="always-heading"], [aria-labelledby="first-heading"]) .place-row',
  );
  for (const row of await rows.all()) await row.getByRole('button', { name: 'OK', exact: true }).click();
}

/** Reads what a tick does not answer: the values by the name of the point. */
export async function measure(page: Page, values: Readonly<Record<string, string>>): Promise<void> {
  for (const [point, value] of Object.entries(values)) {
    const group = page.getByRole('group', { name: point, exact: true }).last();
    await group
      .getByLabel(/^Measured/)
      .first()
      .fill(value);
    await group
      .getByLabel(/^Measured/)
      .first()
      .blur();
  }
}

/** What the gate says of a car, asked past the page. */
export const askGate = serverSays;

/** How many sign-offs the database has for a number. */
export async function countSignOffs(site: Site, carNumber: string): Promise<number> {
  const { prisma } = site.t.deps.db;
  const entries = await prisma.entry.findMany({
    where: { carNumber, eventId: site.demo.eventId },
    select: { id: true },
  });
  return prisma.signOff.count({ where: { entryId: { in: entries.map(({ id }) => id) } } });
}

/** What the device has written of its worksheets, as JSON: the screen shows a change before the disk has it. */
export async function worksheetsOnDisk(page: Page): Promise<string> {
  return page.evaluate(
    () =>
      new Promise<string>((resolve, reject) => {
        const opening = indexedDB.open('gridworthy-line');
        opening.addEventListener('error', () => reject(new Error('the store does not open')));
        opening.onsuccess = () => {
          const db = opening.result;
          const reading = db.transaction('drafts').objectStore('drafts').getAll();
          reading.addEventListener('error', () => reject(new Error('the store cannot be read')));
          reading.onsuccess = () => {
            db.close();
            resolve(JSON.stringify(reading.result));
          };
        };
      }),
  );
}
