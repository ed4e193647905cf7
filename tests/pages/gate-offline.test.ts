import type { Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import { expectAccessible, expectTargets, hasChromium, openDevice } from './support/browser.ts';
import {
  askByKeyboard,
  contactIs,
  enteredNumbers,
  holdCar,
  lookNow,
  openGateDevice,
  readAnswer,
  serverSays,
  untilReady,
} from './support/gate.ts';
import { browser, site, useSite } from './support/site.ts';

const ADMITTING = ['go', 'conditions'];

describe.skipIf(!hasChromium())('the gate without a connection', () => {
  useSite();

  const uploaded = () => site.t.deps.db.prisma.gateCheck.count({ where: { clientId: { not: null } } });
  const unsentIs = (page: Page, count: number) =>
    count === 0
      ? page.locator('[data-fact="unsent"]').waitFor({ state: 'detached' })
      : page.locator('[data-fact="unsent"]', { hasText: String(count) }).waitFor();

  test('answers for every car as the server did before it died, also after a cold start, and tells it all once', async () => {
    const { device, page, faults } = await openGateDevice(browser, site);
    const numbers = await enteredNumbers(site);
    const said = new Map<string, { status: string; admit: boolean }>();
    for (const number of [...numbers, '99']) said.set(number, await serverSays(site, number));
    expect(numbers.length).toBeGreaterThan(40);
    await site.kill();

    for (const [number, { status, admit }] of said) {
      const answer = await askByKeyboard(page, number);
      expect(answer, number).toMatchObject({ status, source: 'list' });
      expect(ADMITTING.includes(answer.kind), number).toBe(admit);
    }
    await askByKeyboard(page, '33');
    await page.getByRole('button', { name: 'Novice only: GO' }).click();
    await page.locator('.answer.go [data-source="list"]').waitFor();
    await contactIs(page, 'offline');
    expect(await page.locator('[data-fact="age"]').innerText()).toMatch(/^List of \d\d:\d\d, (new|\d+ min old)$/);
    await unsentIs(page, said.size + 2);
    // Twins are asked about first.
    const times = await keyToAnswer(page, numbers.filter((number) => !/^0?7$/.test(number)).slice(0, 20));
    process.stdout.write(`gate: key press to answer without a network: ${times.join(' ')} ms\n`);
    // The bar is 50 ms; the machine is shared, so the median counts, and generously.
    expect(times[Math.floor(times.length / 2)]).toBeLessThan(150);

    await page.close();
    const cold = await device.newPage();
    await cold.goto('/gate');
    await contactIs(cold, 'offline');
    for (const [number, { status }] of [...said].slice(0, 5)) {
      expect(await askByKeyboard(cold, number), `${number} after a cold start`).toMatchObject({ status });
    }
    expect(await cold.locator('[data-fact="holds"]').innerText()).toBe('Holds up to 2');
    const asked = said.size + 2 + 20 + 5;
    await unsentIs(cold, asked);

    await site.revive();
    await lookNow(cold);
    await unsentIs(cold, 0);
    await contactIs(cold, 'online');
    expect(await uploaded()).toBe(asked);
    expect(faults).toEqual([]);
    await device.close();
  });

  test('says what rescuers must know of a car, in the answer and as a list, with a network and without', async () => {
    const { device, page, faults } = await openGateDevice(browser, site);
    const { body } = await site.t.api('marshal').get(`/v1/events/${site.demo.eventId}/gate`).expect(200);
    const cars = body.entries as { carNumber: string; rescue: { drive?: string; gas?: string } }[];
    const battery = cars.find(({ rescue }) => rescue.drive === 'battery')?.carNumber ?? '';
    const special = new Set(cars.filter(({ rescue: { drive, gas } }) => drive !== 'combustion' || gas !== 'none'));
    const shown = '.rescue';
    await askByKeyboard(page, battery);
    expect(await page.locator(shown).innerText()).toBe(
      'Battery car: high voltage, 400 V\nDisconnect: under the front lid, orange loop on the right',
    );
    await device.setOffline(true);
    await contactIs(page, 'offline');
    expect(await askByKeyboard(page, battery)).toMatchObject({ source: 'list' });
    expect(await page.locator(shown).innerText()).toContain('under the front lid');
    await askByKeyboard(page, '14');
    expect(await page.locator(shown).count()).toBe(0);
    await page.getByRole('button', { name: 'Rescue list: electric and gas cars' }).click();
    await page.getByRole('heading', { name: 'Rescue: electric and gas cars' }).waitFor();
    const numbers = await page.locator('.rescue-cars .number').allInnerTexts();
    expect(new Set(numbers)).toEqual(new Set([...special].map(({ carNumber }) => carNumber)));
    expect(numbers.length).toBeGreaterThan(2);
    await expectAccessible(page, 'rescue list');
    await expectTargets(page, 44);
    // Somebody who types wants an answer.
    expect(await askByKeyboard(page, '14')).toMatchObject({ source: 'list' });
    expect(faults).toEqual([]);
    await device.close();
  });

  test('keeps its log until the server said that it has it; sent twice it is there once', async () => {
    const { device, page } = await openGateDevice(browser, site);
    const before = await uploaded();
    await device.setOffline(true);
    await contactIs(page, 'offline');
    for (const number of ['14', '99', '14']) await askByKeyboard(page, number);
    await unsentIs(page, 3);
    let sent = 0;
    await device.route('**/gate/checks', async (route) => {
      sent += 1;
      if (sent > 1) return route.continue();
      // It arrives, and the answer does not.
      await route.fetch();
      return route.abort();
    });
    await device.setOffline(false);
    await expect.poll(() => sent, { timeout: 10_000 }).toBeGreaterThan(0);
    await expect.poll(uploaded, { timeout: 10_000 }).toBe(before + 3);
    await unsentIs(page, 3);
    await lookNow(page);
    await unsentIs(page, 0);
    expect(sent).toBeGreaterThan(1);
    expect(await uploaded()).toBe(before + 3);
    await device.close();
  });

  test('lets the report say where it passed a car that was held already', async () => {
    const { device, page } = await openGateDevice(browser, site);
    await device.setOffline(true);
    await contactIs(page, 'offline');
    await holdCar(site, '39', 'contact in session 1');
    // from this group up the wheels are to be torqued again after the first session
    expect(await askByKeyboard(page, '39')).toMatchObject({ kind: 'conditions', source: 'list' });
    await device.setOffline(false);
    await lookNow(page);
    await unsentIs(page, 0);
    await page.locator('[data-fact="holds"]', { hasText: 'Holds up to 3' }).waitFor();
    const report = await site.t.api('chief').get(`/v1/events/${site.demo.eventId}/gate/contradictions`).expect(200);
    const lines = report.body.contradictions as { carNumber: string; contradicts: string }[];
    expect(lines.filter(({ carNumber }) => carNumber === '39').map(({ contradicts }) => contradicts)).toEqual([
      expect.stringMatching(/^Admitted at .+Z, but held since .+Z: Held: contact in session 1\.$/),
    ]);
    expect(await askByKeyboard(page, '39')).toMatchObject({ kind: 'stop', status: 'held', source: 'server' });
    await device.close();
  });

  test('remembers what the server refused after the list was made', async () => {
    const { device, page } = await openGateDevice(browser, site);
    // The list that has the hold never comes.
    await device.route('**/gate/snapshot?*', () => undefined);
    await holdCar(site, '17', 'oil on the track');
    expect(await askByKeyboard(page, '17')).toMatchObject({ status: 'held', source: 'server' });
    await device.setOffline(true);
    await contactIs(page, 'offline');
    expect(await askByKeyboard(page, '17')).toMatchObject({ kind: 'stop', status: 'held', source: 'list' });
    await page.getByText('Held: oil on the track.').waitFor();
    await device.close();
  });

  test('a car that is stopped here is stopped here at once, whoever says otherwise, and told once when it can be', async () => {
    const { device, page, faults } = await openGateDevice(browser, site);
    const holds = () =>
      site.t.deps.db.prisma.hold.findMany({
        where: { entry: { carNumber: '14' } },
        select: { id: true, kind: true, reason: true },
      });
    await device.setOffline(true);
    await contactIs(page, 'offline');
    expect(await askByKeyboard(page, '14')).toMatchObject({ kind: 'go', source: 'list' });
    await page.getByRole('button', { name: 'Stop this car' }).click();
    await page.getByRole('heading', { name: 'Stop car 14: why?' }).waitFor();
    await expectAccessible(page, 'why a car is stopped');
    await expectTargets(page, 64, 'main');
    await page.getByRole('button', { name: 'Leak' }).click();
    const here = { kind: 'stop', status: 'held', source: 'device' };
    expect(await readAnswer(page, '14')).toMatchObject(here);
    await page.getByText('Not yet told the others. Say it by radio.').waitFor();
    await expectAccessible(page, 'stopped here');
    // What it says by itself, it also writes down.
    expect(await askByKeyboard(page, '14')).toMatchObject(here);
    await unsentIs(page, 2);
    await page.close();
    const cold = await device.newPage();
    await cold.goto('/gate');
    await contactIs(cold, 'offline');
    expect(await askByKeyboard(cold, '14')).toMatchObject(here);
    // The server can be asked and not told: it says that the car may go.
    let lost = 0;
    await device.route('**/holds', (route) => route.abort());
    await device.setOffline(false);
    await contactIs(cold, 'online');
    expect(await serverSays(site, '14')).toMatchObject({ admit: true });
    expect(await askByKeyboard(cold, '14')).toMatchObject(here);
    expect(await holds()).toEqual([]);
    // It arrives, and the answer is lost: it is told again, and is the same hold.
    await device.unroute('**/holds');
    await device.route('**/holds', async (route) => {
      lost += 1;
      if (lost > 1) return route.continue();
      await route.fetch();
      return route.abort();
    });
    await lookNow(cold);
    await cold.locator('[data-fact="untold"]').waitFor({ state: 'detached' });
    expect(lost).toBeGreaterThan(1);
    expect(await holds()).toMatchObject([{ kind: 'leak', reason: 'Leak, stopped at the gate' }]);
    // From here on the server's word counts; its list may be older, and says no all the same.
    await device.setOffline(true);
    await contactIs(cold, 'offline');
    expect(await askByKeyboard(cold, '14')).toMatchObject({ kind: 'stop', status: 'held', source: 'list' });
    await device.setOffline(false);
    await contactIs(cold, 'online');
    const [hold] = await holds();
    const lift = { reason: 'A cap was loose', exception: 'seen by the chief' };
    await site.t.api('chief').post(`/v1/holds/${hold?.id}/lift`).send(lift).expect(200);
    expect(await askByKeyboard(cold, '14')).toMatchObject({ kind: 'go', source: 'server' });
    expect(faults).toEqual([]);
    await device.close();
  });

  test('a stop that the server does not take stays on the screen until it was read', async () => {
    const { device, page } = await openGateDevice(browser, site);
    await device.setOffline(true);
    await contactIs(page, 'offline');
    await askByKeyboard(page, '16');
    await page.getByRole('button', { name: 'Stop this car' }).click();
    await device.route('**/gate/16', async (route) => {
      const response = await route.fetch();
      return route.fulfill({ response, json: { ...(await response.json()), entries: [] } });
    });
    await page.getByRole('button', { name: 'Smoke' }).click();
    await device.setOffline(false);
    await page.getByText('The stop of car 16 was not taken: No car 16 is entered at this event.').waitFor();
    await page.reload();
    await page.getByText('The stop of car 16 was not taken').waitFor();
    expect(await askByKeyboard(page, '16')).toMatchObject({ kind: 'stop', source: 'device' });
    await page.getByRole('button', { name: 'Said by radio' }).click();
    await device.unroute('**/gate/16');
    expect(await askByKeyboard(page, '16')).toMatchObject({ source: 'server' });
    await device.close();
  });

  test('asks for two seconds and no longer', async () => {
    const { device, page } = await openGateDevice(browser, site);
    await device.route('**/gate/14', () => undefined);
    const before = Date.now();
    expect(await askByKeyboard(page, '14')).toMatchObject({ kind: 'go', source: 'list' });
    expect(Date.now() - before).toBeLessThan(6000);
    await device.close();
  });

  test('cannot tell where it has no list, and where its access has ended', async () => {
    const token = await site.t.mint('marshal', { holder: 'Gate phone 9' });
    const device = await openDevice(browser, { url: site.url });
    const page = await device.newPage();
    await device.route('**/gate/snapshot?*', (route) => route.abort());
    await page.goto(`/gate#${token.token}`);
    await contactIs(page, 'offline');
    expect(await askByKeyboard(page, '14')).toMatchObject({ kind: 'cannot-tell' });
    await page.getByText('This device has no list and no connection.').waitFor();
    await device.unroute('**/gate/snapshot?*');
    await lookNow(page);
    await untilReady(page);
    await unsentIs(page, 0);
    await site.t.api('organizer').delete(`/v1/tokens/${token.tokenId}`).expect(204);
    expect(await askByKeyboard(page, '14')).toMatchObject({ kind: 'cannot-tell' });
    await page.locator('[data-fault="no-access"]').waitFor();
    await device.close();
  });
});

/** Milliseconds from the key Enter to an answer in the page, sorted. */
async function keyToAnswer(page: Page, numbers: readonly string[]): Promise<number[]> {
  const times: number[] = [];
  for (const number of numbers) {
    await page.keyboard.press('Escape');
    await page.locator('.pad').waitFor();
    await page.keyboard.type(number);
    const spent = page.evaluate(
      () =>
        new Promise<number>((resolve) => {
          let pressedAt = Number.NaN;
          addEventListener('keydown', () => (pressedAt = performance.now()), { once: true, capture: true });
          new MutationObserver((_, observer) => {
            if (document.querySelector('.answer') === null) return;
            observer.disconnect();
            resolve(performance.now() - pressedAt);
          }).observe(document, { childList: true, subtree: true });
        }),
    );
    await page.evaluate(() => undefined);
    await page.keyboard.press('Enter');
    times.push(Math.round(await spent));
  }
  return times.sort((a, b) => a - b);
}
