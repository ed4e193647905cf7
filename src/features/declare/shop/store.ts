import { personKey } from '../../../domain/actor.ts';
import type { PlainDate } from '../../../domain/calendar.ts';
import type { ClearanceFacts } from '../../../domain/clearance/clearance.ts';
import type { Said } from '../../../domain/declaration/basis.ts';
import { RunAgain, type Tx } from '../../../platform/database/db.ts';
import { Prisma } from '../../../platform/prisma-client/client.ts';
import type { Raw } from './part.ts';

/** Days after the last event day for which a shop still sees the car: as long as the entrant's own link works. */
const SEEN_DAYS = 7;

export interface NewLink {
  entryId: string;
  shop: string;
  areas: readonly string[];
  codeHash: Buffer;
  codeEndsAt: Date;
  createdBy: string;
  at: Date;
}

/** A link as its owner sees it. */
export interface StoredLink {
  shopLinkId: string;
  shop: string;
  areas: string[];
  createdAt: Date;
  codeEndsAt: Date;
  takenAt: Date | null;
  endedAt: Date | null;
  answers: Raw;
  signatures: { signatureId: string; name: string; signedAt: Date }[];
}

export async function insertLink(tx: Tx, link: NewLink): Promise<string> {
  const { entryId, shop, areas, codeEndsAt, createdBy, at } = link;
  const codeHash = new Uint8Array(link.codeHash);
  const data = { entryId, shopName: shop, areas: [...areas], codeHash, codeEndsAt, createdBy, createdAt: at };
  return (await tx.shopLink.create({ data, select: { id: true } })).id;
}

export async function listLinks(db: Tx, entryId: string): Promise<StoredLink[]> {
  const rows = await db.shopLink.findMany({
    where: { entryId },
    include: { shop: { select: { name: true } }, signatures: { orderBy: { signedAt: 'asc' } } },
    orderBy: { id: 'desc' },
  });
  return rows.map((row) => ({
    shopLinkId: row.id,
    shop: row.shop?.name ?? row.shopName,
    areas: row.areas,
    createdAt: row.createdAt,
    codeEndsAt: row.codeEndsAt,
    takenAt: row.takenAt,
    endedAt: row.endedAt,
    answers: row.answers as Raw,
    signatures: row.signatures.map(({ id, name, signedAt }) => ({ signatureId: id, name, signedAt })),
  }));
}

/** Links of an entry that a shop has, or can still take. */
export async function countLive(tx: Tx, entryId: string, now: Date): Promise<number> {
  const orTaken = [{ takenAt: { not: null } }, { codeEndsAt: { gt: now } }];
  return tx.shopLink.count({ where: { entryId, endedAt: null, OR: orTaken } });
}

/** Ends a link of a locked entry; undefined when there is none, else whether it had not ended before. */
export async function endLink(
  tx: Tx,
  { entryId, shopLinkId, at }: { entryId: string; shopLinkId: string; at: Date },
): Promise<boolean | undefined> {
  if ((await tx.shopLink.count({ where: { id: shopLinkId, entryId } })) === 0) return undefined;
  const { count } = await tx.shopLink.updateMany({
    where: { id: shopLinkId, endedAt: null },
    data: { endedAt: at, answers: {}, rev: { increment: 1 } },
  });
  return count > 0;
}

/** What taking a link needs to know. */
export interface OfferedLink {
  shopLinkId: string;
  entryId: string;
  areas: string[];
  codeEndsAt: Date;
  shopId: string | null;
  endedAt: Date | null;
}

/** The link of a code, before its entry is locked. */
export async function findOffered(tx: Tx, codeHash: Buffer): Promise<OfferedLink | undefined> {
  const row = await tx.shopLink.findUnique({ where: { codeHash: new Uint8Array(codeHash) } });
  return row === null ? undefined : { ...row, shopLinkId: row.id };
}

export async function insertShop(tx: Tx, name: string, at: Date): Promise<string> {
  return (await tx.shop.create({ data: { name, createdAt: at }, select: { id: true } })).id;
}

export async function insertShopToken(
  tx: Tx,
  token: { shopId: string; name: string; hash: Buffer; at: Date; expiresAt: Date; createdBy?: string },
): Promise<string> {
  const { shopId, name: holder, at: createdAt, expiresAt, createdBy } = token;
  const hash = new Uint8Array(token.hash);
  const by = createdBy === undefined ? {} : { createdBy };
  const data = { role: 'shop', hash, holder, holderKey: personKey(holder), shopId, createdAt, expiresAt, ...by };
  return (await tx.token.create({ data, select: { id: true } })).id;
}

const working = (shopId: string, at: Date) =>
  ({ shopId, role: 'shop', revokedAt: null, expiresAt: { gt: at } }) as const;

/** A shop that is given a car is there for as long again. */
export async function prolongTokens(tx: Tx, shopId: string, ends: { at: Date; expiresAt: Date }): Promise<void> {
  const { at, expiresAt } = ends;
  await tx.token.updateMany({ where: working(shopId, at), data: { expiresAt } });
}

export async function endTokens(tx: Tx, shopId: string, at: Date): Promise<void> {
  await tx.token.updateMany({ where: working(shopId, at), data: { revokedAt: at } });
}

export async function getShopName(db: Tx, shopId: string): Promise<string> {
  return (await db.shop.findUniqueOrThrow({ where: { id: shopId }, select: { name: true } })).name;
}

/** Gives a link of a locked entry to a shop. */
export async function takeLink(tx: Tx, link: { shopLinkId: string; shopId: string; at: Date }): Promise<void> {
  const { shopLinkId, shopId, at } = link;
  await tx.shopLink.update({ where: { id: shopLinkId }, data: { shopId, takenAt: at } });
}

/** A car of a shop, with what stands of its declaration. */
export interface StoredCar {
  shopLinkId: string;
  entryId: string;
  areas: string[];
  answers: Raw;
  rev: number;
  owner: string;
  colour: string | null;
  event: string;
  facts: ClearanceFacts;
  draft: Raw | null;
  said: Said | null;
  signedName: string | null;
  signedAt: Date | null;
  endsOn: PlainDate;
}

/**
 * The cars that a shop sees now, in order of when they must be declared; with `shopLinkId` that one alone. Of others of
 * the same event it sees none: there is no way here but by a link.
 */
export async function listCars(
  db: Tx,
  { shopId, now, shopLinkId }: { shopId: string; now: Date; shopLinkId?: string | undefined },
): Promise<StoredCar[]> {
  const one = shopLinkId === undefined ? Prisma.empty : Prisma.sql`AND l.id = ${shopLinkId}::uuid`;
  return db.$queryRaw<StoredCar[]>`
    SELECT l.id AS "shopLinkId", l.entry_id AS "entryId", l.areas, l.answers, l.rev, e.entrant->>'name' AS owner,
      v.record->>'colour' AS colour, ev.name AS event, c.facts, d.answers AS draft, d.said,
      to_char(ev.ends_on, 'YYYY-MM-DD') AS "endsOn", s.name AS "signedName", s.signed_at AS "signedAt"
    FROM shop_links l
    JOIN entries e ON e.id = l.entry_id
    JOIN clearances c ON c.entry_id = e.id
    JOIN vehicles v ON v.id = e.vehicle_id
    JOIN events ev ON ev.id = e.event_id
    JOIN venues ve ON ve.id = ev.venue_id
    LEFT JOIN drafts d ON d.entry_id = e.id
    LEFT JOIN LATERAL (
      SELECT name, signed_at FROM shop_signatures WHERE shop_link_id = l.id ORDER BY signed_at DESC, id DESC LIMIT 1
    ) s ON true
    WHERE l.shop_id = ${shopId}::uuid AND l.ended_at IS NULL AND e.erased_at IS NULL ${one}
      AND (ev.ends_on + ${SEEN_DAYS + 1}::int)::timestamp AT TIME ZONE ve.time_zone > ${now}::timestamptz
    ORDER BY LEAST(ev.declarations_close_at, ev.cancelled_at), e.car_number, l.id
    LIMIT 200`;
}

/** Keeps what a shop has answered, if the link still has the version `rev`; returns whether it did. */
export async function saveAnswers(
  tx: Tx,
  { shopLinkId, rev, answers }: { shopLinkId: string; rev: number; answers: Raw },
): Promise<boolean> {
  const { count } = await tx.shopLink.updateMany({
    where: { id: shopLinkId, rev, endedAt: null },
    data: { answers: answers as Prisma.InputJsonObject, rev: { increment: 1 } },
  });
  return count === 1;
}

export async function insertSignature(
  tx: Tx,
  signature: { signatureId: string; car: StoredCar; shop: string; name: string; by: string; at: Date; answers: Raw },
): Promise<void> {
  const { signatureId: id, car, shop: shopName, name, by: signedBy, at: signedAt } = signature;
  const answers = signature.answers as Prisma.InputJsonObject;
  const of = { entryId: car.entryId, shopLinkId: car.shopLinkId };
  await tx.shopSignature.create({ data: { id, ...of, shopName, name, signedBy, signedAt, answers } });
}

/** Locks a draft against its owner's page until the transaction ends; whether there is one. Read it afterwards. */
export async function lockDraft(tx: Tx, entryId: string): Promise<boolean> {
  const rows = await tx.$queryRaw<unknown[]>`SELECT 1 FROM drafts WHERE entry_id = ${entryId}::uuid FOR UPDATE`;
  return rows.length > 0;
}

/**
 * Puts signed answers into a draft that is locked, or that there was none of: the owner's page takes them over.
 *
 * @throws RunAgain when its owner saved the first one meanwhile
 */
export async function writeDraft(
  tx: Tx,
  draft: { entryId: string; isThere: boolean; answers: Raw; said: Said; by: string; at: Date },
): Promise<void> {
  const { entryId, isThere, by, at } = draft;
  const [answers, said] = [JSON.stringify(draft.answers), JSON.stringify(draft.said)];
  const written = isThere
    ? await tx.$executeRaw`
        UPDATE drafts SET answers = ${answers}::jsonb, said = ${said}::jsonb, updated_by = ${by}::uuid,
          updated_at = ${at}::timestamptz, rev = rev + 1
        WHERE entry_id = ${entryId}::uuid`
    : await tx.$executeRaw`
        INSERT INTO drafts (entry_id, answers, said, updated_by, updated_at)
        VALUES (${entryId}::uuid, ${answers}::jsonb, ${said}::jsonb, ${by}::uuid, ${at}::timestamptz)
        ON CONFLICT (entry_id) DO NOTHING`;
  if (written === 0) throw new RunAgain('the owner saved a first draft');
}
