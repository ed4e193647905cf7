import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, inject, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { tickingClock } from '../support/clock.ts';
import { createTestEvent } from '../support/event.ts';
import {
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

describe.skipIf(!hasChromium())('setting a device up', () => {
  let t: TestApp;
  let browser: Browser;
  let url: string;
  let eventIds: string[];
  beforeAll(async () => {
    [t, browser] = await Promise.all([
      startTestApp({ clock: tickingClock(), config: { webDir: inject('webDir') } }),
      startBrowser(),
    ]);
    const { eventId } = await createTestEvent(t);
    // The browser's clock goes on, so the event must be today's.
    await t.deps.db.prisma.event.update({ where: { id: eventId }, data: { endsOn: new Date() } });
    eventIds = [eventId];
    const address = t.app.server.address();
    url = typeof address === 'object' && address !== null ? `http://127.0.0.1:${address.port}` : '';
  });
  afterAll(async () => {
    await leaveBrowser(browser);
    await t.close();
  });

  const enrol = async (role: string, minutes = 15): Promise<{ code: string; enrolmentId: string }> =>
    (
      await t
        .api('organizer')
        .post('/v1/enrolments')
        .send({ role, holder: `Device of a ${role}`, minutes, ...(role === 'organizer' ? {} : { eventIds }) })
        .expect(201)
    ).body;
  const isUsed = async (enrolmentId: string) => {
    const row = await t.deps.db.prisma.enrolment.findUniqueOrThrow({ where: { id: enrolmentId } });
    return row.usedAt !== null;
  };

  test.each([
    ['marshal', 'gate'],
    ['inspector', 'line'],
    ['chief', 'line'],
    ['organizer', 'office'],
  ])('a %s taps once and is at the page %s; looking used nothing up', async (role, target) => {
    const { code, enrolmentId } = await enrol(role);
    const device = await openDevice(browser, { url });
    // A mail scanner, a preview and a first look.
    await fetch(`${url}/enrol#${code}`);
    await fetch(`${url}/enrol`, { method: 'HEAD' });
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/enrol#${code}`);
    await page.getByRole('button', { name: 'Set this device up' }).waitFor();
    expect(page.url()).toBe(`${url}/enrol`);
    expect(await isUsed(enrolmentId)).toBe(false);
    await page.getByRole('button', { name: 'Set this device up' }).click();
    await page.waitForURL(`${url}/${target}`);
    expect(await isUsed(enrolmentId)).toBe(true);
    const kept = await page.evaluate((name) => localStorage.getItem(`gridworthy.session.${name}`), target);
    expect(JSON.parse(kept ?? '{}')).toMatchObject({ role, holder: `Device of a ${role}` });
    if (target === 'gate') {
      const { keys } = (await t.api(undefined).get('/.well-known/jwks.json').expect(200)).body;
      expect(await page.evaluate(readPinnedKids)).toEqual([keys[0].kid]);
    }
    expect(faults).toEqual([]);
    await device.close();
  });

  test('says what is wrong with a code, in light and dark', async () => {
    const used = await enrol('marshal');
    await t.api(undefined).post('/v1/enrolments/redeem').send({ code: used.code }).expect(201);
    const expired = await enrol('marshal');
    await t.deps.db.prisma.enrolment.update({
      where: { id: expired.enrolmentId },
      data: { createdAt: new Date(Date.now() - 120_000), expiresAt: new Date(Date.now() - 60_000) },
    });
    const device = await openDevice(browser, { url, viewport: SMALLEST });
    for (const [why, code] of [
      ['used', used.code],
      ['expired', expired.code],
      ['unknown', 'a-code-that-nobody-made'],
    ]) {
      const page = await device.newPage();
      await page.goto(`/enrol#${code}`);
      if (why === 'used') await expectAccessibleInBoth(page, 'ready');
      await page.getByRole('button', { name: 'Set this device up' }).click();
      await page.locator(`[data-why="${why}"]:focus`).waitFor();
      await expectAccessibleInBoth(page, why ?? '');
      await expectTargets(page, 44);
      await expectReflow(page);
      expect(await page.getByRole('button').count(), why).toBe(0);
      await page.close();
    }
    const page = await device.newPage();
    await page.goto('/enrol');
    await page.getByText('There is no code in this address.').waitFor();
    await expectAccessibleInBoth(page, 'no code');
    await device.close();
  });

  test('tries again after the network was gone, with the same code', async () => {
    const { code } = await enrol('marshal');
    const device = await openDevice(browser, { url, language: 'de' });
    const page = await device.newPage();
    await page.goto(`/enrol#${code}`);
    await device.setOffline(true);
    await page.getByRole('button', { name: 'Dieses Gerät einrichten' }).click();
    await page.locator('[data-why="network"]').waitFor();
    await device.setOffline(false);
    await page.getByRole('button', { name: 'Noch einmal versuchen' }).click();
    await page.waitForURL(`${url}/gate`);
    await device.close();
  });
});

/** Names of the keys that the gate trusts, as kept on the device. */
function readPinnedKids(): Promise<string[]> {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open('gridworthy-gate');
    opening.addEventListener('error', () => reject(new Error('no storage')));
    opening.addEventListener('success', () => {
      const asked = opening.result.transaction('kept').objectStore('kept').get('keys');
      asked.addEventListener('success', () => {
        resolve((asked.result as { keys: { kid: string }[] }).keys.map(({ kid }) => kid));
      });
    });
  });
}
