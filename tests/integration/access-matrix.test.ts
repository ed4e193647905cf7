import type { IncomingMessage } from 'node:http';
import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { TABLE } from '../support/access-table.ts';
import { startTestApp, type TestApp, type TestToken } from '../support/app.ts';
import { accept, claim, createTestEntry, createTestEvent, submit, type TestEvent } from '../support/event.ts';
import { openTestShop } from '../support/shop.ts';
import { makePhoto, sendPhoto } from '../support/photos.ts';

const ROLES = ['nobody', 'organizer', 'chief', 'inspector', 'marshal', 'own entrant', 'other entrant'] as const;

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

type Ids = Record<string, string>;
type Fixture = { ids: Ids; own: TestToken; other: TestToken };

/** Everything a path can name, all of it about one car, with the tokens of its entrant and of another. */
async function fixture(): Promise<Fixture> {
  const entry = await createTestEntry(t, event);
  const accepted = await accept(t, event, entry, {
    decision: 'accept-with-conditions',
    conditions: [{ text: 'torque' }],
  });
  const hold = await t.api('inspector').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'leak' });
  const granted = await t
    .api('chief')
    .post(`/v1/entries/${entry.entryId}/concessions`)
    .send({ ruleId: 'pedal-firm', reason: 'known', expiresAt: '2026-06-13T12:00:00Z' });
  const photo = await sendPhoto(t, entry.entrant, entry.entryId, await makePhoto());
  const waiting = await createTestEntry(t, event);
  await submit(t, waiting);
  const claimed = await claim(t, event, waiting.carNumber);
  const inLine = await createTestEntry(t, event);
  await submit(t, inLine);
  const stored = await t.api('organizer').get(`/v1/entries/${entry.entryId}`);
  const kept = await t
    .api('organizer')
    .post(`/v1/vehicles/${stored.body.vehicleId}/calculations`)
    .send({ name: 'tyre-age', body: { code: '2324', onDay: '2026-06-13' } });
  const spare = await t.mint('marshal');
  const trial = await t
    .api('organizer')
    .post(`/v1/rule-sets/${event.ruleSetId}/trial`)
    .send({ eventIds: [event.eventId] });
  const organizer = t.api('organizer');
  await organizer
    .put(`/v1/venues/${event.venueId}/overlays/${event.ruleSetId}`)
    .set('if-match', '"0"')
    .send({ parameters: {}, effects: {}, rules: [] });
  const groupPath = `/v1/events/${event.eventId}/run-groups/${event.novice}`;
  const { rulesHash } = (await organizer.get(groupPath)).body;
  const rejudged = await organizer.post(`${groupPath}/rejudgements`).send({ rulesHash, reason: 'bulletin' });
  await t.deps.db.prisma.webhook.deleteMany();
  const hook = { url: 'https://hooks.example.org/', types: ['hold.placed'] };
  const webhook = await organizer.post('/v1/webhooks').send(hook);
  const ping = await organizer.post(`/v1/webhooks/${webhook.body.webhookId}/test`);
  const imported = await organizer
    .post(`/v1/events/${event.eventId}/entries/import?partial=true`)
    .set('content-type', 'text/csv')
    .send('carNumber,runGroup\n');
  const { shopId, shopLinkId } = await openTestShop(t, entry);
  const ids = {
    shopId,
    shopLinkId,
    importId: imported.body.importId,
    webhookId: webhook.body.webhookId,
    deliveryId: ping.body.deliveryId,
    rejudgementId: rejudged.body.rejudgementId,
    slug: 'not-found',
    name: 'no-such-computation',
    '*': 'nothing.js',
    tokenId: spare.tokenId,
    venueId: event.venueId,
    eventId: event.eventId,
    runGroupId: event.novice,
    ruleSetId: event.ruleSetId,
    version: '1',
    step: 'people',
    table: 'findings',
    sheet: 'rescue',
    kind: 'findings',
    language: 'en',
    mailId: entry.entryId,
    jobId: entry.entryId,
    key: 'nobody-has-this-key-at-all',
    trialId: trial.body.trialId,
    ruleId: 'pad-thickness',
    entryId: entry.entryId,
    vehicleId: stored.body.vehicleId,
    keptId: kept.body.keptId,
    carNumber: entry.carNumber,
    inspectionId: accepted.body.inspectionId,
    holdId: hold.body.holdId,
    concessionId: granted.body.concessionId,
    conditionId: accepted.body.conditions[0].id,
    photoId: photo.body.photoId,
    claimId: claimed.body.claimId,
  };
  return { ids, own: entry.entrant, other: waiting.entrant };
}

function fill(path: string, ids: Ids): string {
  return path.replaceAll(/:(\w+)|\*/g, (whole, name?: string) => {
    const id = ids[name ?? whole];
    if (id === undefined) throw new Error(`no value for ${whole} in ${path}`);
    return id;
  });
}

function letterOf(status: number): string {
  if (status === 401) return 'u';
  if (status === 403) return 'f';
  if (status === 404) return 'n';
  if (status >= 200 && status < 400) return '2';
  return [400, 409, 412, 415, 422, 428].includes(status) ? '4' : `(${status})`;
}

function call(as: Parameters<TestApp['api']>[0], method: string, path: string) {
  const api = t.api(as);
  // It has no end: its headers are the answer.
  if (method === 'GET' && path.endsWith('/stream'))
    return api
      .get(path)
      .buffer(true)
      .parse(headersOnly as never);
  if (method === 'GET') return api.get(path);
  if (method === 'HEAD') return api.head(path);
  if (method === 'DELETE') return api.delete(path);
  if (method === 'PUT') return api.put(path).send({});
  return method === 'PATCH' ? api.patch(path).send({}) : api.post(path).send({});
}

/** The client hands its parser the answer itself, whatever its types say. */
function headersOnly(answer: IncomingMessage, done: (error: Error | null, body: unknown) => void): void {
  answer.destroy();
  done(null, '');
}

async function row(method: string, path: string, { ids, own, other }: Fixture): Promise<string> {
  const url = fill(path, ids);
  let letters = '';
  for (const as of [undefined, 'organizer', 'chief', 'inspector', 'marshal', own, other] as const) {
    letters += letterOf((await call(as, method, url)).status);
  }
  return letters;
}

/** `METHOD /path/:param` of every route, read from the tree that the framework prints: four columns a level. */
function routesOf(app: FastifyInstance): string[] {
  const parents: string[] = [];
  return app
    .printRoutes({ commonPrefix: false })
    .split('\n')
    .flatMap((line) => {
      const match = /^([\s│]*)[├└]── (\S*)(?: \(([A-Z, ]+)\))?$/.exec(line);
      if (match === null) return [];
      const level = (match[1] ?? '').length / 4;
      const path = `${level === 0 ? '' : parents[level - 1]}${match[2]}`;
      parents[level] = path;
      return (match[3]?.split(', ') ?? []).map((method) => `${method} ${path}`);
    });
}

test('the table has every route, and no other', () => {
  const routes = routesOf(t.app).filter((route) => !route.startsWith('HEAD '));
  expect(Object.keys(TABLE).toSorted()).toEqual(routes.map((route) => route.replaceAll('//', '/')).toSorted());
});

const READS = Object.entries(TABLE).filter(([route]) => route.startsWith('GET '));
const WRITES = Object.entries(TABLE).filter(([route]) => !route.startsWith('GET '));
/** Rows in which nobody succeeds leave everything as it was: they need nothing of their own. */
const SUCCEEDS = WRITES.filter(([, letters]) => letters.includes('2'));
const REFUSED = WRITES.filter(([, letters]) => !letters.includes('2'));

describe(`for ${ROLES.join(', ')}, who change nothing`, () => {
  let same: Fixture;
  beforeAll(async () => {
    same = await fixture();
  });

  test.each(READS)('%s answers %s', async (route, expected) => {
    expect(await row('GET', route.slice(4), same)).toBe(expected);
  });

  test.each(READS)('HEAD like %s answers %s', async (route, expected) => {
    expect(await row('HEAD', route.slice(4), same)).toBe(expected);
  });

  test.each(REFUSED)('%s answers %s', async (route, expected) => {
    const [method = '', path = ''] = route.split(' ');
    expect(await row(method, path, same)).toBe(expected);
  });
});

describe(`for ${ROLES.join(', ')}, who change what they find`, () => {
  test.each(SUCCEEDS)('%s answers %s', async (route, expected) => {
    const [method = '', path = ''] = route.split(' ');
    expect(await row(method, path, await fixture())).toBe(expected);
  });
});

describe('a token of the staff for another event', () => {
  const ROLES_OF_EVENTS = ['chief', 'inspector', 'marshal'] as const;
  const BELOW =
    /:(eventId|entryId|runGroupId|rejudgementId|inspectionId|photoId|vehicleId|claimId|holdId|concessionId)/;
  const routes = Object.entries(TABLE).filter(([route, letters]) => {
    const forStaff = /[24n]/.test(letters.slice(2, 5)) && letters.startsWith('u');
    return forStaff && BELOW.test(route);
  });

  let ids: Ids;
  const tokens: TestToken[] = [];
  // Whoever reaches nothing changes nothing: one set of things serves for all routes.
  beforeAll(async () => {
    ({ ids } = await fixture());
    const { eventId } = await createTestEvent(t);
    for (const role of ROLES_OF_EVENTS) {
      const token = await t.mint(role);
      await t.deps.db.prisma.tokenEvent.create({ data: { tokenId: token.tokenId, eventId } });
      tokens.push(token);
    }
  });

  test.each(routes)('%s is not there', async (route, letters) => {
    const [method = '', path = ''] = route.split(' ');
    for (const [place, token] of tokens.entries()) {
      const answer = await call(token, method, fill(path, ids));
      expect([token.role, letterOf(answer.status)]).toEqual([token.role, letters[place + 2] === 'f' ? 'f' : 'n']);
    }
  });
});

describe('the link of another car', () => {
  /** Catalogue, computations and what the token is are there for every token. */
  const FOR_ANY = /^(GET|POST) \/v1\/(catalogue|calculations|own-token)/;
  const OF_CARS = Object.keys(TABLE).filter((route) => route.includes('/vehicles/'));
  const routes = Object.entries(TABLE).filter(([route, letters]) => letters.startsWith('u') && !FOR_ANY.test(route));

  test('reaches nothing', async () => {
    const { ids } = await fixture();
    const { vehicleId } = (
      await t.api('organizer').get(`/v1/entries/${(await createTestEntry(t, await createTestEvent(t))).entryId}`)
    ).body;
    const made = await t
      .api('organizer')
      .post(`/v1/vehicles/${vehicleId}/links`)
      .send({ holder: 'Ada Quist' })
      .expect(201);
    const owner: TestToken = { ...made.body, role: 'owner' };
    const isThere = (path: string) =>
      [...path.matchAll(/:(\w+)/g)].every(([, name = '']) => (ids as Record<string, unknown>)[name] !== undefined);
    for (const [route] of routes) {
      const [method = '', path = ''] = route.split(' ');
      if (!isThere(path)) continue;
      const letter = letterOf((await call(owner, method, fill(path, ids))).status);
      expect([route, letter]).toEqual([route, OF_CARS.includes(route) ? 'n' : 'f']);
    }
  });
});

describe('another shop', () => {
  const FOR_ANY = /^(GET|POST) \/v1\/(catalogue|calculations|own-token)/;
  const SHOWN = /\/shops\/|\/questions\//;
  const routes = Object.keys(TABLE).filter((route) => TABLE[route]?.startsWith('u') && !FOR_ANY.test(route));

  test('reaches nothing of this one, and no shop anything else', async () => {
    const { ids } = await fixture();
    const { token } = await openTestShop(t, await createTestEntry(t, await createTestEvent(t)));
    for (const route of routes) {
      const [method = '', path = ''] = route.split(' ');
      const isThere = [...path.matchAll(/:(\w+)/g)].every(([, name = '']) => ids[name] !== undefined);
      if (!isThere) continue;
      const letter = letterOf((await call(token, method, fill(path, ids))).status);
      expect([route, letter]).toEqual([route, SHOWN.test(route) ? 'n' : 'f']);
    }
  });
});

describe('whoever may not', () => {
  test('learns it before anything about the object: an unknown id answers the same', async () => {
    const unknown = '019ab8f0-0000-7000-8000-00000000dead';
    const { own, other, ids } = await fixture();
    for (const path of ['', '/form', '/history', '/inspections']) {
      const foreign = await t.api(other).get(`/v1/entries/${ids['entryId']}${path}`);
      const missing = await t.api(own).get(`/v1/entries/${unknown}${path}`);
      expect([foreign.status, missing.status]).toEqual([404, 404]);
      expect(foreign.body.detail).toBe(missing.body.detail);
    }
    const hidden = await t.api(other).get(`/v1/inspections/${ids['inspectionId']}`);
    expect(hidden.body.detail).toBe((await t.api(other).get(`/v1/inspections/${unknown}`)).body.detail);
    expect((await t.api('marshal').patch(`/v1/entries/${unknown}`).send({})).status).toBe(403);
  });

  test('is refused before the body is looked at', async () => {
    const bad = await t.api('marshal').post('/v1/tokens').set('content-type', 'application/json').send('{"role":');
    expect(bad.status).toBe(403);
    expect((await t.api(undefined).post('/v1/tokens').set('content-type', 'application/json').send('{')).status).toBe(
      401,
    );
  });

  test.each([
    ['no scheme', 'gw_x'],
    ['another scheme', 'Basic Z3c6eA=='],
    ['an unknown token', 'Bearer gw_0000'],
    ['an empty token', 'Bearer '],
    ['two tokens', 'Bearer a, Bearer b'],
    ['a very long token', `Bearer ${'x'.repeat(5000)}`],
    ['a token with a quote', "Bearer ' OR 1=1 --"],
  ])('with %s is nobody', async (_what, authorization) => {
    const answer = await t.api(undefined).get('/v1/events').set('authorization', authorization);
    expect(answer.status).toBe(401);
    expect(answer.headers['www-authenticate']).toMatch(/^Bearer realm="gridworthy"(, error="invalid_token")?$/);
    expect(answer.text).not.toContain('gw_0000');
  });

  test('an entrant reaches the own entry with the id in either case, and no other in any', async () => {
    const { own, other, ids } = await fixture();
    const path = `/v1/entries/${ids['entryId']?.toUpperCase()}`;
    expect((await t.api(own).get(path)).status).toBe(200);
    expect((await t.api(other).get(path)).status).toBe(404);
  });
});
