import { randomBytes } from 'node:crypto';
import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { AREAS } from '../../../domain/catalogue/item.ts';
import { hashToken, newToken } from '../../../http/access/auth.ts';
import { notFound, ProblemError } from '../../../http/frame/problem.ts';
import { decisionTime } from '../../../platform/clock.ts';
import { inTransaction, type Tx } from '../../../platform/database/db.ts';
import { recordEntryHistory } from '../../../records/history/history.ts';
import { lockEntryForChange } from '../../../records/locks/entry-lock.ts';
import type { MakeShopLink, NewShopLink, OpenedShop, OpenShop, ShopLink, ShopToken } from './schemas.ts';
import {
  countLive,
  endLink,
  endTokens,
  findOffered,
  getShopName,
  insertLink,
  insertShop,
  insertShopToken,
  listLinks,
  type OfferedLink,
  prolongTokens,
  type StoredLink,
  takeLink,
} from './store.ts';

const CODE_BYTES = 16;
const DAY_MS = 86_400_000;
/** How long a shop has to take a link. */
const CODE_DAYS = 30;
/** How long a shop's own token works after the last car it was given: a season and the winter after it. */
const SHOP_DAYS = 400;
/** Shops that work on one entry at a time. */
const MOST_LINKS = 10;

const days = (from: Date, count: number): Date => new Date(from.getTime() + count * DAY_MS);

/**
 * Gives an entry to a shop: whoever has the code takes it, once. Only its hash is stored.
 *
 * @param base address of this server, without a slash at its end
 * @throws ProblemError `not-found`, `state-moved-on` (withdrawn), `not-acceptable` (too many)
 */
export async function makeShopLink(
  deps: Deps,
  actor: Actor,
  { entryId, base, body, requestId }: { entryId: string; base: string; body: MakeShopLink; requestId: string },
): Promise<NewShopLink> {
  const code = randomBytes(CODE_BYTES).toString('base64url');
  return inTransaction(deps.db.prisma, async (tx) => {
    const entry = await lockEntryForChange(tx, entryId);
    const at = await decisionTime(tx, deps.clock);
    if ((await countLive(tx, entryId, at)) >= MOST_LINKS) throw tooMany();
    const codeEndsAt = days(at, CODE_DAYS);
    const { shop } = body;
    const areas = AREAS.filter((area) => body.areas?.includes(area) === true);
    const link = { entryId, shop, areas, codeHash: hashToken(code), codeEndsAt, createdBy: actor.tokenId, at };
    const shopLinkId = await insertLink(tx, link);
    const data = { shopLinkId, areas };
    await recordEntryHistory(tx, entry, { actor, at, action: 'shop.invited', data, requestId });
    const ends = { codeEndsAt: codeEndsAt.toISOString() };
    const url = `${base}/shop#${code}`;
    return { shopLinkId, shop, areas, state: 'open' as const, createdAt: at.toISOString(), code, url, ...ends };
  });
}

function tooMany(): ProblemError {
  const detail = `An entry has at most ${MOST_LINKS} links to shops at a time. End one that is not used.`;
  return new ProblemError('not-acceptable', detail, {
    errors: [{ pointer: '', code: 'too-many', detail, in: 'body' }],
  });
}

/** The shops of an entry, those that have ended too. */
export async function listShopLinks(deps: Deps, entryId: string): Promise<{ links: ShopLink[] }> {
  const now = deps.clock.now();
  return { links: (await listLinks(deps.db.prisma, entryId)).map((link) => viewLink(link, now)) };
}

function viewLink(link: StoredLink, now: Date): ShopLink {
  const { shopLinkId, shop, areas, createdAt, takenAt, endedAt, answers, signatures } = link;
  return {
    shopLinkId,
    shop,
    areas: AREAS.filter((area) => areas.includes(area)),
    state: stateOf(link, now),
    createdAt: createdAt.toISOString(),
    ...(takenAt === null ? {} : { takenAt: takenAt.toISOString() }),
    ...(endedAt === null ? {} : { endedAt: endedAt.toISOString() }),
    unsigned: Object.keys(answers).length,
    signatures: signatures.map((one) => ({ ...one, signedAt: one.signedAt.toISOString() })),
  };
}

function stateOf({ takenAt, endedAt, codeEndsAt }: StoredLink, now: Date): ShopLink['state'] {
  if (endedAt !== null) return 'ended';
  if (takenAt !== null) return 'taken';
  return codeEndsAt <= now ? 'expired' : 'open';
}

/**
 * Takes an entry back from a shop, which sees nothing of it from the next request on. What it signed stays said; what it has
 * not signed is gone. Doing it again is the same as once.
 *
 * @throws ProblemError `not-found`, `state-moved-on` (withdrawn)
 */
export async function endShopLink(
  deps: Deps,
  actor: Actor,
  { entryId, shopLinkId, requestId }: { entryId: string; shopLinkId: string; requestId: string },
): Promise<void> {
  await inTransaction(deps.db.prisma, async (tx) => {
    const entry = await lockEntryForChange(tx, entryId);
    const at = await decisionTime(tx, deps.clock);
    const ended = await endLink(tx, { entryId, shopLinkId, at });
    if (ended === undefined) throw notFound('link');
    if (!ended) return;
    await recordEntryHistory(tx, entry, { actor, at, action: 'shop.ended', data: { shopLinkId }, requestId });
  });
}

/**
 * Opens a shop with the first car that it is given. Whoever has the code needs no token.
 *
 * @throws ProblemError `unauthenticated` (no such code; counted like any failed sign-in), `enrolment-used`,
 *   `enrolment-expired`, `state-moved-on` (withdrawn)
 */
export async function openShop(
  deps: Deps,
  { code, name, requestId }: OpenShop & { requestId: string },
): Promise<OpenedShop> {
  const token = newToken();
  return inTransaction(deps.db.prisma, async (tx) => {
    const at = await decisionTime(tx, deps.clock);
    if ((await findOffered(tx, hashToken(code))) === undefined) throw noShop();
    const expiresAt = days(at, SHOP_DAYS);
    const shopId = await insertShop(tx, name, at);
    const tokenId = await insertShopToken(tx, { shopId, name, hash: hashToken(token), at, expiresAt });
    const actor = { tokenId, role: 'shop' as const, name, shopId };
    const shopLinkId = await take(tx, actor, { code, shopId, at, requestId });
    return { shopId, name, tokenId, token, expiresAt: expiresAt.toISOString(), shopLinkId };
  });
}

function noShop(): ProblemError {
  const detail = 'There is no link with this code. Open it again as it was sent, or ask the owner for a new one.';
  return new ProblemError('unauthenticated', detail, {}, { 'www-authenticate': 'Bearer realm="gridworthy"' });
}

/**
 * Takes one more car. Taking the same again is the same as once.
 *
 * @throws ProblemError `not-acceptable` (no such code), `enrolment-used`, `enrolment-expired`, `state-moved-on` (withdrawn)
 */
export async function takeCar(
  deps: Deps,
  actor: Actor,
  { shopId, code, requestId }: { shopId: string; code: string; requestId: string },
): Promise<string> {
  return inTransaction(deps.db.prisma, async (tx) => {
    const at = await decisionTime(tx, deps.clock);
    const shopLinkId = await take(tx, actor, { code, shopId, at, requestId });
    await prolongTokens(tx, shopId, { at, expiresAt: days(at, SHOP_DAYS) });
    return shopLinkId;
  });
}

async function take(
  tx: Tx,
  actor: Actor,
  { code, shopId, at, requestId }: { code: string; shopId: string; at: Date; requestId: string },
): Promise<string> {
  const offered = await findOffered(tx, hashToken(code));
  if (offered === undefined) throw unknownCode();
  const entry = await lockEntryForChange(tx, offered.entryId);
  // After the lock: of two shops that try at the same moment one gets it.
  const link = (await findOffered(tx, hashToken(code))) ?? offered;
  const { shopLinkId, areas } = link;
  if (isTaken(link, shopId, at)) return shopLinkId;
  await takeLink(tx, { shopLinkId, shopId, at });
  const data = { shopLinkId, shopId, areas };
  await recordEntryHistory(tx, entry, { actor, at, action: 'shop.joined', data, requestId });
  return shopLinkId;
}

function isTaken({ shopId: by, endedAt, codeEndsAt }: OfferedLink, shopId: string, now: Date): boolean {
  if (endedAt !== null) throw new ProblemError('enrolment-expired', 'The owner has taken this link back.');
  if (by === shopId) return true;
  if (by !== null) throw new ProblemError('enrolment-used', 'Another shop has taken this car with this link.');
  if (codeEndsAt > now) return false;
  throw new ProblemError('enrolment-expired', `The link ended at ${codeEndsAt.toISOString()}.`);
}

function unknownCode(): ProblemError {
  const detail = 'There is no link with this code. Open it again as it was sent, or ask the owner for a new one.';
  return new ProblemError('not-acceptable', detail, {
    errors: [{ pointer: '/code', code: 'unknown-code', detail, in: 'body' }],
  });
}

/** Gives the shop a new token and ends all others: for another device, and where one was lost. */
export async function renewShopToken(deps: Deps, actor: Actor, shopId: string): Promise<ShopToken> {
  const token = newToken();
  return inTransaction(deps.db.prisma, async (tx) => {
    const at = await decisionTime(tx, deps.clock);
    const name = await getShopName(tx, shopId);
    await endTokens(tx, shopId, at);
    const expiresAt = days(at, SHOP_DAYS);
    const made = { shopId, name, hash: hashToken(token), at, expiresAt, createdBy: actor.tokenId };
    const tokenId = await insertShopToken(tx, made);
    return { shopId, name, tokenId, token, expiresAt: expiresAt.toISOString() };
  });
}
