import { randomBytes } from 'node:crypto';
import { v7 as uuidV7 } from 'uuid';
import type { Actor } from '../../../domain/actor.ts';
import type { Tx } from '../../../platform/database/db.ts';
import { Prisma } from '../../../platform/prisma-client/client.ts';
import { type Composed, defaultTemplate, type Language, type MailKind, type Template } from './kinds.ts';
import type { OrderMails } from './schemas.ts';

export const MAIL_STATES = ['waiting', 'sending', 'sent', 'kept', 'refused', 'failed', 'doubt', 'stopped'] as const;
type MailState = (typeof MAIL_STATES)[number];

export interface StoredMail extends Composed {
  mailId: string;
  eventId: string;
  entryId: string;
  kind: MailKind;
  language: Language;
  address: string;
  state: MailState;
  reply: string;
  attempts: number;
  stopKey: string;
  createdAt: Date;
  endedAt: Date | null;
  carNumber: string;
}

const COLUMNS = Prisma.sql`m.id AS "mailId", m.event_id AS "eventId", m.entry_id AS "entryId", m.kind, m.language, m.address,
  m.subject, m.text, m.html, m.state, m.reply, m.attempts, m.stop_key AS "stopKey", m.created_at AS "createdAt",
  m.ended_at AS "endedAt", e.car_number AS "carNumber"`;
const FROM = Prisma.sql`FROM mails m JOIN entries e ON e.id = m.entry_id`;

/** A key that nobody guesses, for the link that ends messages. */
export const newStopKey = (): string => randomBytes(16).toString('base64url');

interface NewMail extends Composed {
  eventId: string;
  entryId: string;
  kind: MailKind;
  dedupeKey: string;
  language: Language;
  address: string;
  stopKey: string;
  state: 'waiting' | 'kept';
  at: Date;
}

/** Writes a message; undefined where it was written before. */
export async function insertMail(tx: Tx, mail: NewMail): Promise<string | undefined> {
  const { at, ...data } = mail;
  const id = uuidV7();
  const ended = mail.state === 'kept' ? at : null;
  const { count } = await tx.mail.createMany({
    data: { id, ...data, createdAt: at, endedAt: ended },
    skipDuplicates: true,
  });
  return count === 1 ? id : undefined;
}

export async function findMail(db: Tx, mailId: string): Promise<StoredMail | undefined> {
  const rows = await db.$queryRaw<StoredMail[]>`SELECT ${COLUMNS} ${FROM} WHERE m.id = ${mailId}::uuid`;
  return rows[0];
}

export async function hasMail(db: Tx, dedupeKey: string): Promise<boolean> {
  return (await db.mail.count({ where: { dedupeKey } })) > 0;
}

interface Filters {
  eventId: string;
  entryId: string | undefined;
  state: MailState | undefined;
  before: string | undefined;
  take: number;
}

/** Messages of an event, newest first. */
export async function listMails(db: Tx, { eventId, entryId, state, before, take }: Filters): Promise<StoredMail[]> {
  const where = [
    Prisma.sql`m.event_id = ${eventId}::uuid`,
    ...(entryId === undefined ? [] : [Prisma.sql`m.entry_id = ${entryId}::uuid`]),
    ...(state === undefined ? [] : [Prisma.sql`m.state = ${state}`]),
    ...(before === undefined ? [] : [Prisma.sql`m.id < ${before}::uuid`]),
  ];
  return db.$queryRaw<StoredMail[]>`
    SELECT ${COLUMNS} ${FROM} WHERE ${Prisma.join(where, ' AND ')} ORDER BY m.id DESC LIMIT ${take}`;
}

/** Goes from one state to another; false where another worker was here first. */
export async function moveMail(
  db: Tx,
  mailId: string,
  change: { from: readonly MailState[]; to: MailState; reply?: string; at: Date },
): Promise<boolean> {
  const { from, to, reply, at } = change;
  const { count } = await db.mail.updateMany({
    where: { id: mailId, state: { in: [...from] } },
    data: {
      state: to,
      ...(reply === undefined ? {} : { reply }),
      ...(to === 'sending' ? { attempts: { increment: 1 } } : {}),
      endedAt: to === 'waiting' || to === 'sending' ? null : at,
    },
  });
  return count === 1;
}

/** Takes a link out of what is kept of a message: it is a key, and nobody needs it here once it is sent. */
export async function forgetLink(db: Tx, mailId: string): Promise<void> {
  await db.$executeRaw`
    UPDATE mails SET text = regexp_replace(text, '#gw_[A-Za-z0-9_-]+', '#…', 'g'),
      html = regexp_replace(html, '#gw_[A-Za-z0-9_-]+', '#…', 'g') WHERE id = ${mailId}::uuid`;
}

/** Messages that left within the last minute, or may have. */
export async function countSentSince(db: Tx, since: Date): Promise<number> {
  return db.mail.count({ where: { state: { in: ['sent', 'doubt'] }, endedAt: { gt: since } } });
}

/** Messages to one entry since an instant. */
export async function countOfEntry(db: Tx, entryId: string, since: Date): Promise<number> {
  return db.mail.count({ where: { entryId, createdAt: { gt: since } } });
}

/** Remembers that there was nothing to tell, so that the clock does not ask again. */
export async function markUnsaid(db: Tx, { dedupeKey, entryId }: { dedupeKey: string; entryId: string }, at: Date) {
  await db.mailUnsaid.createMany({ data: { dedupeKey, entryId, foundAt: at }, skipDuplicates: true });
}

export async function isStopped(db: Tx, entryId: string): Promise<boolean> {
  return (await db.mailStop.count({ where: { entryId } })) > 0;
}

/** Ends messages about the entry of a message, by its key. Returns the car number; undefined where nobody has this key. */
export async function stopByKey(db: Tx, stopKey: string, at: Date): Promise<string | undefined> {
  const rows = await db.$queryRaw<{ carNumber: string }[]>`
    WITH found AS (SELECT m.entry_id, e.car_number ${FROM} WHERE m.stop_key = ${stopKey}),
      stopped AS (INSERT INTO mail_stops (entry_id, stopped_at) SELECT entry_id, ${at}::timestamptz FROM found
        ON CONFLICT (entry_id) DO NOTHING)
    SELECT car_number AS "carNumber" FROM found`;
  return rows[0]?.carNumber;
}

export async function findByKey(db: Tx, stopKey: string): Promise<string | undefined> {
  const rows = await db.$queryRaw<{ carNumber: string }[]>`
    SELECT e.car_number AS "carNumber" ${FROM} WHERE m.stop_key = ${stopKey}`;
  return rows[0]?.carNumber;
}

/** More than one event has cars; it bounds what one request writes. */
const MOST = 1000;

/**
 * Entries that an order names, and whether it concerns them: who has declared is not reminded, and who does not wait at the
 * line is given no time for it. Undefined where there is no such event.
 */
export async function listOrderable(
  db: Tx,
  eventId: string,
  { kind, runGroupId, entryIds }: Pick<OrderMails, 'kind' | 'runGroupId' | 'entryIds'>,
): Promise<{ entryId: string; concerned: boolean }[] | undefined> {
  if ((await db.event.count({ where: { id: eventId } })) === 0) return undefined;
  const where = [
    Prisma.sql`e.event_id = ${eventId}::uuid`,
    ...(runGroupId === undefined ? [] : [Prisma.sql`e.run_group_id = ${runGroupId}::uuid`]),
    ...(entryIds === undefined ? [] : [Prisma.sql`e.id = ANY (${entryIds}::uuid[])`]),
  ];
  const concerned = {
    reminder: Prisma.sql`c.facts->'declared' IS NULL`,
    'line-time': Prisma.sql`EXISTS (SELECT 1 FROM tickets t WHERE t.entry_id = e.id AND t.state IN ('waiting', 'claimed'))`,
    note: Prisma.sql`true`,
  }[kind];
  return db.$queryRaw<{ entryId: string; concerned: boolean }[]>`
    SELECT e.id AS "entryId", ${concerned} AS concerned FROM entries e JOIN clearances c ON c.entry_id = e.id
    WHERE ${Prisma.join(where, ' AND ')} ORDER BY e.id LIMIT ${MOST}`;
}

interface TemplateKey {
  eventId: string;
  kind: MailKind;
  language: Language;
}

/** The text of an event for a kind of message, or the one that comes with the server. */
export async function findTemplate(db: Tx, { eventId, kind, language }: TemplateKey): Promise<Template> {
  const own = await db.mailTemplate.findUnique({ where: { eventId_kind_language: { eventId, kind, language } } });
  return own === null ? defaultTemplate(kind, language) : { subject: own.subject, text: own.text };
}

interface OwnTemplate extends Template {
  kind: MailKind;
  language: Language;
  changedBy: string;
  changedAt: Date;
}

export async function listOwnTemplates(db: Tx, eventId: string): Promise<OwnTemplate[]> {
  const rows = await db.mailTemplate.findMany({ where: { eventId } });
  return rows.map(({ kind, language, subject, text, changedName, changedAt }) => ({
    // written from parsed values only
    kind: kind as MailKind,
    language: language as Language,
    subject,
    text,
    changedBy: changedName,
    changedAt,
  }));
}

export async function saveTemplate(
  db: Tx,
  key: TemplateKey,
  { template, actor, at }: { template: Template; actor: Actor; at: Date },
): Promise<void> {
  const data = { ...template, changedBy: actor.tokenId, changedName: actor.name, changedAt: at };
  await db.mailTemplate.upsert({ where: { eventId_kind_language: key }, create: { ...key, ...data }, update: data });
}

/** Back to the text that comes with the server. */
export async function dropTemplate(db: Tx, key: TemplateKey): Promise<void> {
  await db.mailTemplate.deleteMany({ where: key });
}
