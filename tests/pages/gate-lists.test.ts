import { CompactSign, exportJWK, generateKeyPair, importJWK } from 'jose';
import type { BrowserContext, Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import { SNAPSHOT_TYPE } from '../../src/domain/clearance/gate-snapshot.ts';
import { hasChromium, openDevice, watchPage } from './support/browser.ts';
import { askByKeyboard, contactIs, holdCar, lookNow, openGateDevice, untilReady } from './support/gate.ts';
import { browser, site, useSite } from './support/site.ts';

const HOUR_MS = 3_600_000;

describe.skipIf(!hasChromium())('the list that a gate holds', () => {
  useSite();

  const list = async (): Promise<string> => {
    const answer = await fetch(`${site.url}/v1/events/${site.demo.eventId}/gate/snapshot`, {
      headers: { authorization: `Bearer ${site.demo.tokens.marshal}` },
    });
    return answer.text();
  };
  const partsOf = (jws: string) => {
    const [header = '', payload = '', signature = ''] = jws.split('.');
    return { header, payload, signature, kid: String(JSON.parse(decode(header))['kid']) };
  };
  const decode = (part: string) => Buffer.from(part, 'base64url').toString('utf8');
  const signedBy = async (payload: string, kid: string, key: Awaited<ReturnType<typeof importJWK>>) =>
    new CompactSign(new TextEncoder().encode(payload))
      .setProtectedHeader({ alg: 'ES256', kid, typ: SNAPSHOT_TYPE })
      .sign(key);

  /** From now on the device is given this list, as a new one. */
  async function serve(device: BrowserContext, jws: string): Promise<void> {
    await device.unroute('**/gate/snapshot?*');
    await device.route('**/gate/snapshot?*', (route) =>
      route.fulfill({
        status: 200,
        contentType: 'application/jose',
        headers: { date: new Date().toUTCString() },
        body: jws,
      }),
    );
  }

  async function expectRefused(page: Page, fault: string): Promise<void> {
    await lookNow(page);
    await page.locator(`[data-fault="${fault}"]`).waitFor();
    await page.getByText('The list from before stays in use.').waitFor();
  }

  test('stays when a new one has a flipped byte, another signer, another event, or is older; each is said', async () => {
    const before = await list();
    const { device, page, faults } = await openGateDevice(browser, site);
    const { header, payload, signature, kid } = partsOf(before);

    const admitting = decode(payload).replace('"holds":[{', '"holds":[],"x":[{');
    await serve(device, [header, Buffer.from(admitting).toString('base64url'), signature].join('.'));
    await expectRefused(page, 'bad-signature');
    const place = Math.floor(payload.length / 2);
    const flipped = payload.slice(0, place) + (payload[place] === 'A' ? 'B' : 'A') + payload.slice(place + 1);
    await serve(device, [header, flipped, signature].join('.'));
    await expectRefused(page, 'bad-signature');

    const foreign = await generateKeyPair('ES256', { extractable: true });
    await serve(device, await signedBy(decode(payload), kid, foreign.privateKey));
    await expectRefused(page, 'bad-signature');
    await serve(device, await signedBy(decode(payload), 'somebody-else', foreign.privateKey));
    await expectRefused(page, 'unknown-key');
    // Not even with a key set of his own, because none of the pinned keys is in it.
    const jwk = { ...(await exportJWK(foreign.publicKey)), kid: 'somebody-else', alg: 'ES256', use: 'sig' };
    await device.route('**/.well-known/jwks.json', (route) =>
      route.fulfill({ status: 200, contentType: 'application/jwk-set+json', body: JSON.stringify({ keys: [jwk] }) }),
    );
    await expectRefused(page, 'foreign-keys');
    await device.unroute('**/.well-known/jwks.json');

    const { privateJwk } = await site.t.deps.db.prisma.signingKey.findFirstOrThrow({ where: { retiredAt: null } });
    const own = await importJWK(privateJwk as Parameters<typeof importJWK>[0], 'ES256');
    const elsewhere = JSON.stringify({
      ...JSON.parse(decode(payload)),
      eventId: '019ab8f0-0000-7000-8000-00000000dead',
    });
    await serve(device, await signedBy(elsewhere, kid, own));
    await expectRefused(page, 'other-event');

    // A newer one is taken, and then the one from before is an older one, although it is signed and in date.
    await holdCar(site, '17', 'contact');
    await serve(device, await list());
    await lookNow(page);
    await page.locator('[data-fact="holds"]', { hasText: 'Holds up to 3' }).waitFor();
    await page.locator('[data-fault]').waitFor({ state: 'detached' });
    await serve(device, before);
    await expectRefused(page, 'older-list');
    expect(await page.locator('[data-fact="holds"]').innerText()).toBe('Holds up to 3');
    await device.setOffline(true);
    await contactIs(page, 'offline');
    expect(await askByKeyboard(page, '17')).toMatchObject({ kind: 'stop', status: 'held', source: 'list' });
    expect(faults).toEqual([]);
    await device.close();
  });

  test('is taken from the next key after a rotation, because the key before is still published', async () => {
    const { device, page } = await openGateDevice(browser, site);
    const { kid } = partsOf(await list());
    await site.t.api('organizer').post('/v1/signing-keys/rotate').expect(200);
    await holdCar(site, '31', 'noise');
    expect(partsOf(await list()).kid).not.toBe(kid);
    await lookNow(page);
    await page.locator('[data-fact="holds"]', { hasText: 'Holds up to 4' }).waitFor();
    expect(await page.locator('[data-fault]').count()).toBe(0);
    await device.close();
  });

  test('tells nothing from the moment on that it is stale, and what it said only as information', async () => {
    const device = await openDevice(browser, { url: site.url });
    await device.clock.install();
    const page = await device.newPage();
    const faults = watchPage(page);
    await page.goto(`/gate#${site.demo.tokens.marshal}`);
    await untilReady(page);
    await device.setOffline(true);
    await contactIs(page, 'offline');
    await page.clock.fastForward(20 * 60_000);
    await page.locator('[data-fact="age"][data-old="true"]', { hasText: '20 min old' }).waitFor();
    expect(await askByKeyboard(page, '14')).toMatchObject({ kind: 'go', source: 'list' });
    const { asOf, staleAfter } = JSON.parse(decode(partsOf(await list()).payload));
    const lifeMs = Date.parse(staleAfter) - Date.parse(asOf);
    expect(lifeMs).toBeGreaterThan(HOUR_MS);
    await page.clock.fastForward(lifeMs - 20 * 60_000);
    expect(await askByKeyboard(page, '14')).toMatchObject({ kind: 'cannot-tell' });
    await page.getByText('The list is too old to count.').waitFor();
    await page.getByText('For information only: the list of').waitFor();
    expect(faults).toEqual([]);
    await device.close();
  });

  test.each([
    ['forward', HOUR_MS],
    ['back', -HOUR_MS],
  ])('tells nothing after the clock was set %s, until there is contact again', async (_, byMs) => {
    const device = await openDevice(browser, { url: site.url });
    await device.clock.install();
    const page = await device.newPage();
    await page.goto(`/gate#${site.demo.tokens.marshal}`);
    await untilReady(page);
    await device.setOffline(true);
    await contactIs(page, 'offline');
    expect(await askByKeyboard(page, '14')).toMatchObject({ kind: 'go', source: 'list' });
    await page.clock.setSystemTime(Date.now() + byMs);
    expect(await askByKeyboard(page, '14')).toMatchObject({ kind: 'cannot-tell' });
    await page.locator('[data-fault="clock"]').waitFor();
    await device.setOffline(false);
    await lookNow(page);
    await contactIs(page, 'online');
    await page.locator('[data-fault="clock"]').waitFor({ state: 'detached' });
    expect(await askByKeyboard(page, '14')).toMatchObject({ kind: 'go', source: 'server' });
    // And by the list again, although the device's clock is still wrong.
    await device.setOffline(true);
    await contactIs(page, 'offline');
    expect(await askByKeyboard(page, '14')).toMatchObject({ kind: 'go', source: 'list' });
    await device.close();
  });
});
