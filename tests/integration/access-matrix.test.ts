import type { IncomingMessage } from 'node:http';
import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { CALCULATIONS } from '../../src/domain/trade/calculations.ts';
import { startTestApp, type TestApp, type TestToken } from '../support/app.ts';
import { accept, claim, createTestEntry, createTestEvent, submit, type TestEvent } from '../support/event.ts';
import { openTestShop } from '../support/shop.ts';
import { makePhoto, sendPhoto } from '../support/photos.ts';

const ROLES = ['nobody', 'organizer', 'chief', 'inspector', 'marshal', 'own entrant', 'other entrant'] as const;

/**
 * What each role gets, in the order of `ROLES`: `2` let in, `4` let in and refused for what was sent (nothing useful
 * is), `u` 401, `f` 403, `n` 404 (not yours to see, or no such thing). From section 5 of the design, not from the code.
 */
const TABLE: Record<string, string> = {
  'GET /': '2222222',
  'GET /healthz': '2222222',
  'GET /livez': '2222222',
  'GET /readyz': '2222222',
  'GET /metrics': 'u2fffff',
  'GET /openapi.json': '2222222',
  'GET /docs': '2222222',
  'GET /docs/': '2222222',
  'GET /docs/json': '2222222',
  'GET /docs/yaml': '2222222',
  'GET /docs/static/index.html': '2222222',
  'GET /docs/static/swagger-initializer.js': '2222222',
  'GET /docs/*': 'nnnnnnn',
  'GET /docs/examples/:name': 'nnnnnnn',
  'GET /docs/start': '2222222',
  'GET /docs/rule-sets': '2222222',
  'GET /docs/operate': '2222222',
  'GET /docs/install': '2222222',
  'GET /robots.txt': '2222222',
  'GET /docs/integrate': '2222222',
  'GET /rule-set.schema.json': '2222222',
  'GET /problems': '2222222',
  'GET /problems/:slug': '2222222',

  'GET /.well-known/jwks.json': '2222222',
  // nobody is named in the configuration of this test
  'GET /.well-known/security.txt': 'nnnnnnn',
  'GET /.well-known/history-keys.json': '2222222',

  // The pages: what they show needs a token, they do not.
  'GET /garage': '2222222',
  'GET /line': '2222222',
  'GET /gate': '2222222',
  'GET /office': '2222222',
  'GET /enrol': '2222222',
  'GET /car': '2222222',
  'GET /shop': '2222222',
  'GET /icon.svg': '2222222',
  'GET /icon-192.png': '2222222',
  'GET /icon-512.png': '2222222',
  'GET /icon-maskable-512.png': '2222222',
  'GET /gate.webmanifest': '2222222',
  'GET /worker.js': '2222222',
  // `/assets/*`, as the framework prints a folder that has nothing but a wildcard
  'GET /*': 'nnnnnnn',
  'GET /v1/catalogue': 'u222222',
  'GET /v1/calculations': 'u222222',
  // No such computation; the row of each that there is stands below.
  'POST /v1/calculations/:name': 'unnnnnn',
  ...Object.fromEntries(CALCULATIONS.map(({ name }) => [`POST /v1/calculations/${name}`, 'u444444'])),

  'POST /v1/tokens': 'u4fffff',
  'GET /v1/tokens': 'u2fffff',
  'GET /v1/own-token': 'u222222',
  'DELETE /v1/tokens/:tokenId': 'u2fffff',
  'POST /v1/tokens/:tokenId/bind': 'u4fffff',
  'POST /v1/enrolments': 'u44ffff',
  // For whoever has the code; no token is asked for.
  'POST /v1/enrolments/redeem': '4444444',
  'POST /v1/venues': 'u4fffff',
  'GET /v1/venues': 'u2fffff',
  'GET /v1/venues/:venueId': 'u2fffff',
  'PUT /v1/venues/:venueId': 'u4fffff',
  'POST /v1/venues/:venueId/preview': 'u4fffff',
  // Events are at it.
  'DELETE /v1/venues/:venueId': 'u4fffff',
  'POST /v1/events': 'u4fffff',
  'GET /v1/events': 'u2222ff',
  'GET /v1/events/:eventId': 'u2222ff',
  'PATCH /v1/events/:eventId': 'u4fffff',
  'POST /v1/events/:eventId/preview': 'u2fffff',
  'POST /v1/events/:eventId/copies': 'u4fffff',
  'POST /v1/events/:eventId/cancel': 'u4fffff',
  // Something was submitted.
  'DELETE /v1/events/:eventId': 'u4fffff',
  'GET /v1/set-up': 'u2fffff',
  'PUT /v1/events/:eventId/set-up/:step': 'u4fffff',
  'POST /v1/events/:eventId/run-groups': 'u4fffff',
  'GET /v1/events/:eventId/run-groups': 'u2222ff',
  'GET /v1/events/:eventId/run-groups/:runGroupId': 'u2222ff',
  'PATCH /v1/events/:eventId/run-groups/:runGroupId': 'u4fffff',
  // Cars are entered in it.
  'DELETE /v1/events/:eventId/run-groups/:runGroupId': 'u4fffff',
  'POST /v1/events/:eventId/run-groups/:runGroupId/preview': 'u2fffff',
  'GET /v1/events/:eventId/run-groups/:runGroupId/sessions': 'u2222ff',
  'PUT /v1/events/:eventId/run-groups/:runGroupId/sessions': 'u44ffff',
  'GET /v1/entries/:entryId/calendar': 'u22222n',
  'GET /v1/entries/:entryId/countdown': 'u22222n',
  'GET /v1/events/:eventId/run-groups/:runGroupId/track': 'u2222ff',
  'PUT /v1/events/:eventId/run-groups/:runGroupId/track': 'u44ffff',
  'POST /v1/events/:eventId/run-groups/:runGroupId/rejudgements': 'u4fffff',
  'GET /v1/rejudgements/:rejudgementId': 'u2222ff',
  'GET /v1/run-groups/:runGroupId/questions/:name': 'unnnnnn',
  'GET /v1/run-groups/:runGroupId/resolved-rules': 'u2222ff',
  'GET /v1/run-groups/:runGroupId/limits': 'u2222ff',
  'GET /v1/venues/:venueId/overlays': 'u2fffff',
  'GET /v1/venues/:venueId/overlays/:ruleSetId': 'u2fffff',
  'PUT /v1/venues/:venueId/overlays/:ruleSetId': 'u4fffff',
  'DELETE /v1/venues/:venueId/overlays/:ruleSetId': 'u4fffff',
  'GET /v1/events/:eventId/history': 'u22ffff',
  'GET /v1/events/:eventId/audit': 'u22ffff',
  'GET /v1/events/:eventId/audit/proofs': 'u44ffff',
  'GET /v1/events/:eventId/audit/consistency': 'u44ffff',
  'GET /v1/events/:eventId/stream': 'u2222ff',
  'GET /v1/built-in-rules': 'u2fffff',
  'POST /v1/built-in-rules/adopt': 'u4fffff',
  'POST /v1/rule-sets': 'u4fffff',
  'GET /v1/rule-sets': 'u2fffff',
  'GET /v1/rule-sets/:ruleSetId': 'u2fffff',
  'PUT /v1/rule-sets/:ruleSetId': 'u4fffff',
  'POST /v1/rule-sets/:ruleSetId/check': 'u2fffff',
  'POST /v1/rule-set-checks': 'u2fffff',
  'POST /v1/rule-sets/:ruleSetId/publish': 'u4fffff',
  'POST /v1/rule-sets/:ruleSetId/trial': 'u4fffff',
  'GET /v1/rule-sets/:ruleSetId/trials': 'u2fffff',
  'GET /v1/trials/:trialId': 'u2fffff',
  'GET /v1/rule-sets/:ruleSetId/versions': 'u2222ff',
  'GET /v1/rule-sets/:ruleSetId/versions/:version': 'u2222ff',
  'POST /v1/rule-sets/:ruleSetId/versions/:version/retire': 'u4fffff',

  'POST /v1/events/:eventId/entries': 'u4fffff',
  'GET /v1/events/:eventId/entries': 'u2fffff',
  'POST /v1/events/:eventId/entries/import': 'u4fffff',
  'GET /v1/events/:eventId/entries/export': 'u2fffff',
  'GET /v1/events/:eventId/mails': 'u2fffff',
  'POST /v1/events/:eventId/mails': 'u4fffff',
  'GET /v1/mails/:mailId': 'unfffff',
  'POST /v1/mails/:mailId/again': 'u4fffff',
  'POST /v1/entries/:entryId/mails': 'u4fffff',
  'GET /v1/events/:eventId/mail-templates': 'u2fffff',
  'PUT /v1/events/:eventId/mail-templates/:kind/:language': 'u4fffff',
  'DELETE /v1/events/:eventId/mail-templates/:kind/:language': 'u4fffff',
  'POST /v1/events/:eventId/mail-templates/:kind/:language/preview': 'u4fffff',
  // For whoever has the key of a message; this one is nobody's.
  'GET /mail/stop/:key': 'nnnnnnn',
  'POST /mail/stop/:key': '4444444',
  'GET /v1/events/:eventId/imports': 'u2fffff',
  'POST /v1/events/:eventId/entries/lists/look': 'u4fffff',
  'POST /v1/events/:eventId/entries/lists': 'u4fffff',
  'GET /v1/events/:eventId/exports': 'u2fffff',
  'GET /v1/events/:eventId/exports/:kind': 'u2fffff',
  'GET /v1/imports/:importId': 'u2fffff',
  'GET /v1/entries/:entryId': 'u222f2n',
  'PATCH /v1/entries/:entryId': 'u4fffff',
  'GET /v1/entries/:entryId/form': 'u22222n',
  'PUT /v1/entries/:entryId/declaration': 'uffff4n',
  'POST /v1/entries/:entryId/inspections': 'uf44f4n',
  'GET /v1/entries/:entryId/inspections': 'u22222n',
  'GET /v1/inspections/:inspectionId': 'u22222n',
  'GET /v1/inspections/:inspectionId/findings/:ruleId': 'u22222n',
  'GET /v1/entries/:entryId/record': 'u22ffff',
  'GET /v1/entries/:entryId/history': 'u22222n',
  'GET /v1/entries/:entryId/log': 'u22222n',
  'POST /v1/entries/:entryId/log': 'u44444n',
  'POST /v1/entries/:entryId/photos': 'uf44f4n',
  'GET /v1/entries/:entryId/photos': 'u22222n',
  'GET /v1/photos/:photoId': 'u22222n',
  // The chief has removed it before its entrant tries.
  'DELETE /v1/photos/:photoId': 'uf2ffnn',

  'POST /v1/entries/:entryId/shop-links': 'uffff4n',
  'GET /v1/entries/:entryId/shop-links': 'u22222n',
  'DELETE /v1/entries/:entryId/shop-links/:shopLinkId': 'u2fff2n',
  // For whoever has the code of a link; no token is asked for. What is below belongs to the shop alone.
  'POST /v1/shops': '4444444',
  'POST /v1/shops/:shopId/token': 'uffffff',
  'POST /v1/shops/:shopId/cars': 'uffffff',
  'GET /v1/shops/:shopId/cars': 'uffffff',
  'GET /v1/shops/:shopId/cars/:shopLinkId': 'uffffff',
  'PUT /v1/shops/:shopId/cars/:shopLinkId/answers': 'uffffff',
  'POST /v1/shops/:shopId/cars/:shopLinkId/signatures': 'uffffff',

  'GET /v1/vehicles/:vehicleId/records': 'u22222n',
  'GET /v1/vehicles/:vehicleId/facts': 'u22222n',
  // An inspector has the car at the line first; another entrant is refused for what he sent before whose car it is.
  'PATCH /v1/vehicles/:vehicleId/facts': 'u444f44',
  'GET /v1/vehicles/:vehicleId/links': 'u2fffff',
  'POST /v1/vehicles/:vehicleId/links': 'u4fff44',
  'DELETE /v1/vehicles/:vehicleId/links': 'u2fffff',

  'GET /v1/events/:eventId/line': 'u2222ff',
  'GET /v1/events/:eventId/readiness': 'u2222ff',
  'POST /v1/events/:eventId/line/claims': 'uf22fff',
  // The claim is the inspector's own; for the chief it is another's.
  'GET /v1/claims/:claimId': 'ufn2fff',
  'POST /v1/claims/:claimId/renew': 'ufn2fff',
  'DELETE /v1/claims/:claimId': 'uf22fff',
  'POST /v1/claims/:claimId/sign-off': 'uf44fff',

  'POST /v1/entries/:entryId/back-to-line': 'u444fff',
  'POST /v1/entries/:entryId/holds': 'u44444n',
  'POST /v1/holds/:holdId/lift': 'u444fff',
  'POST /v1/entries/:entryId/concessions': 'uf4ffff',
  'GET /v1/entries/:entryId/concessions': 'u22222n',
  'GET /v1/concessions/:concessionId': 'u22222n',
  // In force already: there is nothing to approve.
  'POST /v1/concessions/:concessionId/approve': 'u44ffff',
  'POST /v1/concessions/:concessionId/revoke': 'u44ffff',
  'POST /v1/entries/:entryId/conditions/:conditionId/done': 'uf24fff',
  // Twice is once too often: the organizer's was first.
  'POST /v1/entries/:entryId/withdraw': 'u2fff4n',

  'GET /v1/entries/:entryId/personal-data': 'u2fff2n',
  'POST /v1/entries/:entryId/erase': 'u4fffff',

  'GET /v1/events/:eventId/gate': 'u2222ff',
  'GET /v1/events/:eventId/gate/:carNumber': 'u2222ff',
  'GET /v1/events/:eventId/gate/snapshot': 'u2222ff',
  'POST /v1/events/:eventId/gate/checks': 'u4444ff',
  'GET /v1/events/:eventId/gate/contradictions': 'u22ffff',
  'POST /v1/signing-keys/rotate': 'u2fffff',

  'POST /v1/webhooks': 'u4fffff',
  'GET /v1/webhooks': 'u2fffff',
  'GET /v1/webhooks/:webhookId': 'u2fffff',
  'PATCH /v1/webhooks/:webhookId': 'u4fffff',
  'DELETE /v1/webhooks/:webhookId': 'u2fffff',
  'POST /v1/webhooks/:webhookId/secret': 'u2fffff',
  'POST /v1/webhooks/:webhookId/test': 'u2fffff',
  'GET /v1/webhooks/:webhookId/deliveries': 'u2fffff',
  // The test message of the fixture is not sent yet: there is nothing to send again.
  'POST /v1/webhooks/:webhookId/deliveries/:deliveryId/replay': 'u4fffff',
};

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
    kind: 'findings',
    language: 'en',
    mailId: entry.entryId,
    key: 'nobody-has-this-key-at-all',
    trialId: trial.body.trialId,
    ruleId: 'pad-thickness',
    entryId: entry.entryId,
    vehicleId: stored.body.vehicleId,
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
});

describe(`for ${ROLES.join(', ')}, who change what they find`, () => {
  test.each(WRITES)('%s answers %s', async (route, expected) => {
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

  test.each(routes)('%s is not there', async (route, letters) => {
    const [method = '', path = ''] = route.split(' ');
    const { ids } = await fixture();
    const elsewhere = await createTestEvent(t);
    for (const [place, role] of ROLES_OF_EVENTS.entries()) {
      const token = await t.mint(role);
      await t.deps.db.prisma.tokenEvent.create({ data: { tokenId: token.tokenId, eventId: elsewhere.eventId } });
      const answer = await call(token, method, fill(path, ids));
      expect([role, letterOf(answer.status)]).toEqual([role, letters[place + 2] === 'f' ? 'f' : 'n']);
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
      const isThere = [...path.matchAll(/:(\w+)/g)].every(([, name = '']) => (ids as Ids)[name] !== undefined);
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
