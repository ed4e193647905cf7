import type { AddressInfo } from 'node:net';
import { afterAll, afterEach, beforeAll, expect, test } from 'vitest';
import type { Config } from '../../src/config.ts';
import { type Accounts, startAccounts } from '../support/accounts.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEvent, type TestEvent } from '../support/event.ts';

// The provider that is asked is a certified one (oidc-provider); the flow is OpenID Connect Core 1.0, section 3.1, with
// the proof key of RFC 7636 and the state, nonce and issuer of RFC 9700, section 2.1.

/** Where people see this server; the test goes to where it really listens. */
const PUBLIC = 'http://tech.localhost';
const BACK = `${PUBLIC}/sign-in/callback`;
const PEOPLE = {
  olga: { name: 'Olga  Ferreira\n', email: 'olga@example.org', email_verified: true, groups: ['race-office', 'bar'] },
  chris: { name: 'Chris Adeyemi', email: 'chris@example.org', email_verified: true, groups: ['scrutineers'] },
  both: { name: 'Bo Lindqvist', groups: ['scrutineers', 'race-office'] },
  guest: { name: 'Gil Marsh', email: 'olga@example.org', email_verified: false, groups: 'race' },
};

let accounts: Accounts;
const open: TestApp[] = [];
beforeAll(async () => {
  accounts = await startAccounts({ people: PEOPLE, back: BACK });
});
afterEach(async () => {
  while (open.length > 0) await open.pop()?.close();
});
afterAll(() => accounts.close());

async function start(overrides: Partial<NonNullable<Config['signIn']>> = {}): Promise<TestApp> {
  const signIn = {
    issuer: accounts.issuer,
    clientId: accounts.clientId,
    clientSecret: accounts.clientSecret,
    name: 'the club',
    scope: 'openid profile email groups',
    claim: 'groups',
    organizers: ['race-office'],
    chiefs: ['scrutineers'],
    hours: 12,
    ...overrides,
  };
  const t = await startTestApp({ config: { publicUrl: PUBLIC, signIn } });
  open.push(t);
  return t;
}

/** A browser of its own: cookies by place, and redirects one at a time. */
function browser(t: TestApp) {
  const cookies = new Map<string, Map<string, string>>();
  const here = `http://127.0.0.1:${(t.app.server.address() as AddressInfo).port}`;
  const visit = async (address: string): Promise<{ status: number; location: string | undefined; set: string[] }> => {
    const { origin } = new URL(address);
    const jar = cookies.get(origin) ?? new Map<string, string>();
    cookies.set(origin, jar);
    const cookie = [...jar].map(([name, value]) => `${name}=${value}`).join('; ');
    const answer = await fetch(address.replace(PUBLIC, here), { redirect: 'manual', headers: { cookie } });
    const set = answer.headers.getSetCookie();
    for (const one of set) {
      const [, name = '', value = ''] = /^([^=]+)=([^;]*)/.exec(one) ?? [];
      if (value === '') jar.delete(name);
      else jar.set(name, value);
    }
    const location = answer.headers.get('location');
    return { status: answer.status, location: location === null ? undefined : new URL(location, address).href, set };
  };
  /** Follows redirects until the one that leads where `until` says, which is not followed. */
  const follow = async (address: string, until: string): Promise<string> => {
    for (let at: string | undefined = address, hops = 0; at !== undefined && hops < 12; hops += 1) {
      if (at.startsWith(until)) return at;
      at = (await visit(at)).location;
    }
    throw new Error(`never came to ${until}`);
  };
  return { visit, follow };
}

const signIn = (t: TestApp, who: string): Promise<string> => {
  accounts.now(who);
  return browser(t).follow(`${PUBLIC}/sign-in`, `${PUBLIC}/office`);
};
const tokenIn = (address: string): string => new URL(address).hash.slice(1);
const ownToken = (t: TestApp, token: string) =>
  t.api({ tokenId: '', token, role: 'organizer', holder: '' }).get('/v1/own-token');

test('an organizer comes back with a token that ends by itself, whose holder is his name in one line', async () => {
  const t = await start();
  const at = await signIn(t, 'olga');
  expect(at).toMatch(new RegExp(`^${PUBLIC}/office#gw_[\\w-]+$`));
  const { body } = await ownToken(t, tokenIn(at)).expect(200);
  expect(body).toMatchObject({ role: 'organizer', holder: 'Olga Ferreira' });
  const listed = (await t.api('organizer').get('/v1/tokens').expect(200)).body.tokens;
  const made = listed.find((one: { holder: string }) => one.holder === 'Olga Ferreira');
  expect(made).toMatchObject({ role: 'organizer', state: 'live' });
  expect(Date.parse(made.expiresAt) - Date.parse(made.createdAt)).toBe(12 * 3_600_000);
  t.clock.set(new Date(Date.parse(made.expiresAt)).toISOString());
  await ownToken(t, tokenIn(at)).expect(401);
});

test('a chief is one of the events that are not over, and their history says so without his name', async () => {
  const t = await start();
  expect(await signIn(t, 'chris')).toBe(`${PUBLIC}/office?sign-in=no-event`);
  const event: TestEvent = await createTestEvent(t);
  const { body } = await ownToken(t, tokenIn(await signIn(t, 'chris'))).expect(200);
  expect(body).toMatchObject({ role: 'chief', holder: 'Chris Adeyemi', eventIds: [event.eventId] });
  const rows = await t.deps.db.prisma.history.findMany({ where: { action: 'token.minted' } });
  expect(rows).toHaveLength(1);
  expect(JSON.stringify(rows[0]?.data)).not.toContain('Chris');
});

test('whoever is both is the organizer; whoever is neither is nobody, also with the address of somebody else', async () => {
  const t = await start();
  expect((await ownToken(t, tokenIn(await signIn(t, 'both')))).body).toMatchObject({ role: 'organizer' });
  expect(await signIn(t, 'guest')).toBe(`${PUBLIC}/office?sign-in=nobody`);
  const byAddress = await start({ claim: 'email', organizers: ['olga@example.org'], chiefs: [] });
  expect(await signIn(byAddress, 'guest')).toBe(`${PUBLIC}/office?sign-in=nobody`);
  expect(tokenIn(await signIn(byAddress, 'olga'))).toMatch(/^gw_/);
});

test('claims that stand in the ID token are taken from there', async () => {
  const told = await startAccounts({ people: PEOPLE, back: BACK, inIdToken: true });
  try {
    const t = await start({ issuer: told.issuer });
    told.now('olga');
    expect(tokenIn(await browser(t).follow(`${PUBLIC}/sign-in`, `${PUBLIC}/office`))).toMatch(/^gw_/);
  } finally {
    await told.close();
  }
});

test('who says no at the provider is back in the office, and nothing was made', async () => {
  const t = await start();
  const before = await t.deps.db.prisma.token.count();
  expect(await signIn(t, 'says no')).toBe(`${PUBLIC}/office?sign-in=refused`);
  expect(await t.deps.db.prisma.token.count()).toBe(before);
});

test('an answer is good once, in the browser that asked, and with what it asked', async () => {
  const t = await start();
  accounts.now('olga');
  const own = browser(t);
  const back = await own.follow(`${PUBLIC}/sign-in`, BACK);
  const again = `${PUBLIC}/office?sign-in=again`;
  // Somebody else's browser, with no cookie or with that of another sign-in.
  expect((await browser(t).visit(back)).location).toBe(again);
  const other = browser(t);
  await other.visit(`${PUBLIC}/sign-in`);
  expect((await other.visit(back)).location).toBe(again);
  // Another state than was asked with, and another issuer.
  for (const [key, value] of [
    ['state', 'x'.repeat(43)],
    ['iss', 'http://127.0.0.1:1'],
    ['code', 'x'.repeat(43)],
  ] as const) {
    const changed = new URL(await own.follow(`${PUBLIC}/sign-in`, BACK));
    changed.searchParams.set(key, value);
    expect((await own.visit(changed.href)).location, key).toBe(again);
  }
  const good = await own.follow(`${PUBLIC}/sign-in`, BACK);
  expect((await own.visit(good)).location).toMatch(/#gw_/);
  expect((await own.visit(good)).location).toBe(again);
});

test('what the browser keeps meanwhile is for this server alone, not for scripts, and goes when it was used', async () => {
  const t = await start();
  const own = browser(t);
  const { set, location } = await own.visit(`${PUBLIC}/sign-in`);
  expect(set).toHaveLength(1);
  expect(set[0]).toMatch(/; HttpOnly/);
  expect(set[0]).toMatch(/; SameSite=Lax/);
  const asked = new URL(String(location)).searchParams;
  expect(asked.get('code_challenge_method')).toBe('S256');
  expect(asked.get('response_type')).toBe('code');
  // The proof key is not in what the provider sees.
  expect(String(location)).not.toContain(String(set[0]?.split(/[=;]/)[1]));
  expect((await own.visit(BACK)).set[0]).toMatch(/Expires=Thu, 01 Jan 1970/);
});

test('a provider that is away is said, and asked again by the next; a server without one offers none', async () => {
  const gone = await startAccounts({ people: PEOPLE, back: BACK });
  await gone.close();
  const t = await start({ issuer: gone.issuer });
  expect((await browser(t).visit(`${PUBLIC}/sign-in`)).location).toBe(`${PUBLIC}/office?sign-in=away`);
  await t.api(undefined).get('/sign-in/offer').expect(200, { offered: true, name: 'the club' });
  const without = await startTestApp();
  open.push(without);
  await without.api(undefined).get('/sign-in/offer').expect(200, { offered: false });
  await without.api(undefined).get('/sign-in').expect(404);
});
