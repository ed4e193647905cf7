import type { Actor } from '../../domain/actor.ts';
import type { Tx } from '../../platform/database/db.ts';
import { defaultTemplate, type Template } from './compose.ts';
import type { Language, MailKind } from './kinds.ts';

export interface TemplateKey {
  eventId: string;
  kind: MailKind;
  language: Language;
}

/** The text of an event for a kind of message, or the one that comes with the server. */
export async function findTemplate(db: Tx, { eventId, kind, language }: TemplateKey): Promise<Template> {
  const own = await db.mailTemplate.findUnique({ where: { eventId_kind_language: { eventId, kind, language } } });
  return own === null ? defaultTemplate(kind, language) : { subject: own.subject, text: own.text };
}

export interface OwnTemplate extends Template {
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
