import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import {
  accept,
  claim,
  createTestEntry,
  createTestEvent,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { openTestShop } from '../support/shop.ts';
import { type ApiModel, type Operation, readApi } from './api-model.ts';
import { type Ids, idsOfEntry } from './entry-ids.ts';

/** Operations that belong to nobody's car. Each that is new and takes an entrant must be named here, or have an owner. */
/** What is the same for everybody, or for every car of a run group. */
const OF_EVERYBODY = /^\/v1\/(catalogue|own-token|calculations|run-groups\/\{runGroupId\}\/questions)/;

let t: TestApp;
let api: ApiModel;
let event: TestEvent;
let own: TestEntry;
let other: TestEntry;
let otherIds: Ids;

beforeAll(async () => {
  t = await startTestApp();
  api = readApi(t.app);
  event = await createTestEvent(t);
  own = await createTestEntry(t, event);
  other = await createTestEntry(t, event);
  otherIds = await idsOfEntry(t, event, other);
  await submit(t, own);
});
afterAll(() => t.close());

const forEntrants = () =>
  api.operations.filter(({ roles, path }) => roles?.includes('entrant') === true && !OF_EVERYBODY.test(path));
const fill = (path: string, ids: Ids) =>
  path.replaceAll(/\{(\w+)\}/g, (whole, name: string) => {
    const id = ids[name];
    if (id === undefined) throw new Error(`no ${whole} for ${path}: add it to entry-ids.ts`);
    return id;
  });
const named = ({ method, path }: Operation) => `${method} ${path}`;

function inject(token: string | undefined, { method }: Pick<Operation, 'method'>, url: string, body?: unknown) {
  return t.app.inject({
    method: method as 'GET',
    url,
    headers: {
      'if-match': '*',
      'idempotency-key': url.slice(-40),
      ...(token === undefined ? {} : { authorization: `Bearer ${token}` }),
    },
    ...(body === undefined ? {} : { payload: body as object }),
  });
}

describe("another entrant's things (OWASP API1:2023)", () => {
  test('are found for every operation that entrants may call', () => {
    expect(forEntrants().length).toBeGreaterThan(10);
    for (const operation of forEntrants()) expect(() => fill(operation.path, otherIds), named(operation)).not.toThrow();
  });

  test('answer 404 to an entrant in every operation, with the text of what is not there, and stay as they are', async () => {
    const before = await stateOf(other);
    for (const operation of forEntrants()) {
      const body = operation.bodies.get('application/json')?.example;
      const answer = await inject(own.entrant.token, operation, fill(operation.path, otherIds), body);
      expect(answer.statusCode, `${named(operation)} ${answer.body.slice(0, 300)}`).toBe(404);
      const unknown = {
        ...otherIds,
        ...Object.fromEntries(operation.pathNames.filter((name) => name.endsWith('Id')).map((name) => [name, NOBODYS])),
      };
      const missing = await inject(own.entrant.token, operation, fill(operation.path, unknown), body);
      expect(missing.statusCode, named(operation)).toBe(404);
      expect(missing.json().detail, named(operation)).toBe(answer.json().detail);
    }
    expect(await stateOf(other)).toEqual(before);
  });

  test('are not in any list or view that an entrant can read', async () => {
    const ids = await idsOfEntry(t, event, own);
    for (const operation of forEntrants().filter(({ method }) => method === 'GET')) {
      const { statusCode, body } = await inject(own.entrant.token, operation, fill(operation.path, ids));
      expect([200, 404, 409], named(operation)).toContain(statusCode);
      for (const foreign of [other.entryId, `Entrant of ${other.carNumber}`]) {
        expect(body, `${named(operation)} shows ${foreign}`).not.toContain(foreign);
      }
    }
  });
});

const NOBODYS = '019ab8f0-0000-7000-8000-00000000dead';

async function stateOf({ entryId }: TestEntry): Promise<unknown> {
  const organizer = t.api('organizer');
  const paths = ['', '/inspections', '/concessions', '/history'];
  return Promise.all(paths.map(async (path) => (await organizer.get(`/v1/entries/${entryId}${path}`)).body as unknown));
}

describe('ids of one event below another (OWASP API1:2023)', () => {
  test('are not found', async () => {
    const elsewhere = await createTestEvent(t);
    // A car number, a step of setting up, a table, a sheet and a kind of message are no ids: each event has its own.
    const nested = api.operations.filter(({ path }) =>
      /^\/v1\/events\/\{eventId\}\/.*\{(?!carNumber|step|table|kind|language|sheet)\w+\}/.test(path),
    );
    expect(nested.length).toBeGreaterThan(2);
    for (const operation of nested) {
      const url = fill(operation.path, { ...otherIds, eventId: elsewhere.eventId });
      const body = operation.bodies.get('application/json')?.example;
      const answer = await inject((await t.mint('organizer')).token, operation, url, body);
      expect([404], `${named(operation)} ${answer.body.slice(0, 200)}`).toContain(answer.statusCode);
    }
  });

  test('a number of one event is unknown at the gate of another', async () => {
    const admitted = await createTestEntry(t, event);
    await accept(t, event, admitted);
    const elsewhere = await createTestEvent(t);
    t.clock.set('2026-06-13T08:00:00.000Z');
    const here = await t.api('marshal').get(`/v1/events/${event.eventId}/gate/${admitted.carNumber}`);
    const there = await t.api('marshal').get(`/v1/events/${elsewhere.eventId}/gate/${admitted.carNumber}`);
    expect([here.body.admit, here.body.status]).toEqual([true, 'clear']);
    expect([there.body.admit, there.body.status]).toEqual([false, 'unknown']);
    const wrongGroup = await t
      .api('marshal')
      .get(`/v1/events/${event.eventId}/gate/${admitted.carNumber}?runGroupId=${elsewhere.novice}`);
    expect(wrongGroup.body.admit).toBe(false);
    t.clock.set(TEST_NOW);
  });

  test('an entry cannot be put into a run group of another event', async () => {
    const elsewhere = await createTestEvent(t);
    const { body, headers } = await t.api('organizer').get(`/v1/entries/${own.entryId}`);
    const moved = await t
      .api('organizer')
      .patch(`/v1/entries/${body.entryId}`)
      .set('if-match', headers['etag'] ?? '')
      .send({ runGroupId: elsewhere.novice });
    expect(moved.status).toBe(422);
    const car = await claim(t, elsewhere, own.carNumber);
    expect(car.status).toBe(404);
  });
});

describe('what the server decides (OWASP API3:2023, mass assignment)', () => {
  test('is refused in every JSON body, key by key, with its place', async () => {
    const organizer = (await t.mint('organizer')).token;
    const shopOfOwn = await openTestShop(t, own);
    let sent = 0;
    for (const operation of api.operations) {
      const media = operation.bodies.get('application/json');
      if (media === undefined || operation.roles === undefined) continue;
      const isOpen = api.resolve(media.schema)['additionalProperties'] !== false;
      // A document that is only checked may be anything; its faults are the answer.
      if (isOpen) expect(operation.id).toMatch(/^check/);
      if (isOpen) continue;
      const known = new Set(Object.keys(api.resolve(media.schema)['properties'] ?? {}));
      const token = {
        organizer,
        chief: (await t.mint('chief')).token,
        inspector: (await t.mint('inspector')).token,
        entrant: own.entrant.token,
        marshal: (await t.mint('marshal')).token,
        owner: own.entrant.token,
        shop: shopOfOwn.token.token,
      }[operation.roles[0] ?? 'organizer'];
      const mine: Ids =
        operation.roles[0] === 'shop' ? { shopId: shopOfOwn.shopId, shopLinkId: shopOfOwn.shopLinkId } : {};
      const ids = operation.roles[0] === 'entrant' ? { ...otherIds, entryId: own.entryId } : { ...otherIds, ...mine };
      for (const key of serverKeys(operation).filter((name) => !known.has(name))) {
        const answer = await inject(token, operation, fill(operation.path, ids), { [key]: 'x' });
        expect(answer.statusCode, `${named(operation)} ${key} ${answer.body.slice(0, 200)}`).toBe(400);
        const pointers = answer.json<{ errors: { pointer: string }[] }>().errors.map(({ pointer }) => pointer);
        expect(pointers, `${named(operation)} ${key}`).toContain(`/${key}`);
        sent += 1;
      }
    }
    expect(sent).toBeGreaterThan(200);
  });
});

const OWNED = [
  'status',
  'admit',
  'signedBy',
  'createdAt',
  'createdBy',
  'entryState',
  'rev',
  'role',
  'tokenId',
  'hash',
  '__proto',
];

/** Everything that an answer of the operation carries, and what tables hold. */
function serverKeys({ responses }: Operation): string[] {
  const shown = [...responses].flatMap(([status, content]) =>
    status < 300
      ? [...content.values()].flatMap(({ schema }) => Object.keys(api.resolve(schema)['properties'] ?? {}))
      : [],
  );
  return [...new Set([...shown, ...OWNED])];
}
