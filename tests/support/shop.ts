import type { TestApp, TestToken } from './app.ts';
import type { TestEntry } from './event.ts';

export interface TestShop {
  shopId: string;
  token: TestToken;
}

/** What the owner sends to a shop: a link of the own entry, for all areas or for some. */
export async function inviteShop(
  test: TestApp,
  entry: TestEntry,
  areas?: readonly string[],
): Promise<{ shopLinkId: string; code: string; url: string }> {
  const sent = { shop: 'The workshop', ...(areas === undefined ? {} : { areas }) };
  const made = await test.api(entry.entrant).post(`/v1/entries/${entry.entryId}/shop-links`).send(sent).expect(201);
  return made.body;
}

/** Opens a shop with a first car. */
export async function openTestShop(
  test: TestApp,
  entry: TestEntry,
  { name = 'Unit 7 workshop', areas }: { name?: string; areas?: readonly string[] } = {},
): Promise<TestShop & { shopLinkId: string }> {
  const { code } = await inviteShop(test, entry, areas);
  const opened = await test.api(undefined).post('/v1/shops').send({ code, name }).expect(201);
  const { shopId, tokenId, token, shopLinkId } = opened.body;
  return { shopId, shopLinkId, token: { tokenId, token, role: 'shop', holder: name } };
}

/** Gives the shop one more car. */
export async function giveCar(
  test: TestApp,
  { shopId, token }: TestShop,
  entry: TestEntry,
  areas?: readonly string[],
): Promise<string> {
  const { code } = await inviteShop(test, entry, areas);
  const taken = await test.api(token).post(`/v1/shops/${shopId}/cars`).send({ code }).expect(201);
  return taken.body.shopLinkId;
}

export const carPath = ({ shopId }: TestShop, shopLinkId: string): string => `/v1/shops/${shopId}/cars/${shopLinkId}`;

/** The shop answers, with the version that it read. */
export async function answerCar(test: TestApp, shop: TestShop, shopLinkId: string, answers: object) {
  const api = test.api(shop.token);
  const { headers } = await api.get(carPath(shop, shopLinkId)).expect(200);
  return api
    .put(`${carPath(shop, shopLinkId)}/answers`)
    .set('if-match', headers['etag'] ?? '')
    .send({ answers });
}

/** Somebody of the shop signs what it has answered. */
export async function signCar(test: TestApp, shop: TestShop, shopLinkId: string, name = 'Ada Quist') {
  const api = test.api(shop.token);
  const { headers } = await api.get(carPath(shop, shopLinkId)).expect(200);
  return api
    .post(`${carPath(shop, shopLinkId)}/signatures`)
    .set('if-match', headers['etag'] ?? '')
    .send({ name });
}
