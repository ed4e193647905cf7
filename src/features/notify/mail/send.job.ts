import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import { defineJob } from '../../../platform/queue/job.ts';
import { appendOutbox } from '../../../platform/queue/outbox.ts';
import { sendBySmtp } from '../../../platform/outgoing/smtp.ts';
import { inTransaction } from '../../../platform/database/db.ts';
import { MAIL_WRITE } from '../../../records/notify-entrant.ts';
import {
  countOfEntry,
  countSentSince,
  findMail,
  findTemplate,
  forgetLink,
  hasMail,
  insertMail,
  isStopped,
  moveMail,
  newStopKey,
  type StoredMail,
} from './store.ts';
import { compose, kindOf, type Language, type MailKind, STOPPABLE, type Template } from './kinds.ts';
import { commonWords, ownWords } from './facts.ts';
import { findRecipient, type Recipient } from './facts-store.ts';

export const MAIL_SEND = 'mail.send';

const ATTEMPTS = 8;
const MINUTE_MS = 60_000;
const ENDED_MIDWAY = 'The server was stopped while the message was on its way. It may have arrived.';

const Payload = z.strictObject({ mailId: z.uuid() });

/** The name of this server in ids of messages: a part of an address, from where mail is from. */
const domainOf = (from: string): string => /@([^\s<>@]+?)>?\s*$/.exec(from)?.[1] ?? 'localhost';

/** Sends one message. What the server said stays beside it; after doubt nothing is sent again by itself. */
export const mailSendJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: MAIL_SEND,
  payload: Payload,
  attempts: ATTEMPTS,
  backoffMs: 30_000,
  async handle(deps, { mailId }, context) {
    const db = deps.db.prisma;
    const mail = await findMail(db, mailId);
    if (mail === undefined) return;
    if (mail.state === 'sending') {
      // Whoever began it is gone: a conversation is given up within minutes, and a job runs once at a time.
      await moveMail(db, mailId, { from: ['sending'], to: 'doubt', reply: ENDED_MIDWAY, at: deps.clock.now() });
      return;
    }
    if (mail.state !== 'waiting') return;
    const { smtp, perMinute } = deps.config.mail;
    const now = deps.clock.now();
    if (smtp === undefined) {
      await moveMail(db, mailId, { from: ['waiting'], to: 'kept', at: now });
      return;
    }
    if ((await countSentSince(db, new Date(now.getTime() - MINUTE_MS))) >= perMinute) {
      const runAt = new Date(now.getTime() + MINUTE_MS);
      await appendOutbox(db, { name: MAIL_SEND, payload: { mailId }, runAt, requestId: context.requestId });
      return;
    }
    if (!(await moveMail(db, mailId, { from: ['waiting'], to: 'sending', at: now }))) return;
    await converse(deps, mail, context.attempt >= ATTEMPTS);
  },
});

async function converse(deps: Deps, mail: StoredMail, isLastTry: boolean): Promise<void> {
  const { smtp } = deps.config.mail;
  if (smtp === undefined) return;
  const { mailId, address: to, subject, text, html, language, stopKey } = mail;
  const { publicUrl } = deps.config;
  const { outcome, reply } = await sendBySmtp(smtp, {
    messageId: `<${mailId}@${domainOf(smtp.from)}>`,
    to,
    subject,
    text,
    html,
    language,
    stopUrl: publicUrl === undefined ? undefined : `${publicUrl}/mail/stop/${stopKey}`,
  });
  const isOver = outcome !== 'later' || isLastTry;
  const state = outcome === 'later' ? (isLastTry ? 'failed' : 'waiting') : outcome;
  await moveMail(deps.db.prisma, mailId, { from: ['sending'], to: state, reply, at: deps.clock.now() });
  if (state === 'sent' && mail.kind === 'link') await forgetLink(deps.db.prisma, mailId);
  // The address and what was said are personal: the log has the outcome only.
  deps.log.info({ mailId, state }, 'message sent or not');
  if (!isOver) throw new Error('the mail server did not take the message yet');
}

/** Messages about one entry a day, beside those that tell what happened to its car. */
const MOST_A_DAY = 10;
const DAY_MS = 86_400_000;

export interface WriteMail {
  entryId: string;
  kind: MailKind;
  /** what it is about */
  id: string;
  dedupeKey: string;
  /** words that only whoever orders it has */
  words?: Readonly<Record<string, string>>;
  /** instead of the text of the event */
  template?: Template;
  requestId?: string | null;
}

/** What came of an order: it was written (or was before), or why not. */
export type Written = 'written' | 'no-address' | 'stopped' | 'too-many' | 'nothing-to-say';

/** Writes a message and orders that it is sent. Once for each `dedupeKey`. */
export async function writeMail(deps: Deps, order: WriteMail): Promise<Written> {
  const db = deps.db.prisma;
  if (await hasMail(db, order.dedupeKey)) return 'written';
  const to = await findRecipient(db, order.entryId);
  if (to === undefined || to.erased || to.withdrawn || to.cancelled) return 'nothing-to-say';
  if (to.email === null) return 'no-address';
  if (STOPPABLE.has(order.kind)) {
    if (await isStopped(db, order.entryId)) return 'stopped';
    const since = new Date(deps.clock.now().getTime() - DAY_MS);
    if ((await countOfEntry(db, order.entryId, since)) >= MOST_A_DAY) return 'too-many';
  }
  const language = to.language ?? deps.config.mail.language;
  const own = await ownWords(db, order.kind, order.id, { to, language, now: deps.clock.now() });
  if (own === undefined) return 'nothing-to-say';
  const words = { ...(await commonWords(db, to, language)), ...own, ...order.words };
  await keep(deps, { order, to, email: to.email, language, words });
  return 'written';
}

interface Kept {
  order: WriteMail;
  to: Recipient;
  email: string;
  language: Language;
  words: Readonly<Record<string, string>>;
}

async function keep(deps: Deps, { order, to, email, language, words }: Kept): Promise<void> {
  const { kind, dedupeKey, entryId } = order;
  const { eventId } = to;
  const stopKey = newStopKey();
  const { publicUrl, mail } = deps.config;
  const stop = publicUrl === undefined ? undefined : `${publicUrl}/mail/stop/${stopKey}`;
  await inTransaction(deps.db.prisma, async (tx) => {
    const template = order.template ?? (await findTemplate(tx, { eventId, kind, language }));
    const composed = compose(template, words, { language, stop });
    const state = mail.mode === 'send' ? 'waiting' : 'kept';
    const at = deps.clock.now();
    const about = { eventId, entryId, kind, dedupeKey, language, address: email, stopKey, state, at } as const;
    const mailId = await insertMail(tx, { ...composed, ...about });
    if (mailId === undefined || state === 'kept') return;
    await appendOutbox(tx, { name: MAIL_SEND, payload: { mailId }, requestId: order.requestId });
  });
}

const WritePayload = z.strictObject({
  entryId: z.uuid(),
  /** `noun.verb` */
  happened: z.string().max(60),
  id: z.uuid(),
  dedupeKey: z.string().max(200),
});

/** Writes the message about something that happened to an entry; what has no text of its own is not mailed. */
export const mailWriteJob = defineJob<Deps, z.infer<typeof WritePayload>>({
  name: MAIL_WRITE,
  payload: WritePayload,
  attempts: 8,
  backoffMs: 2000,
  async handle(deps, { entryId, happened, id, dedupeKey }, context) {
    const kind = kindOf(happened);
    if (kind === undefined || deps.config.mail.mode === 'off') return;
    const written = await writeMail(deps, { entryId, kind, id, dedupeKey, requestId: context.requestId });
    context.log.info({ entryId, kind, written }, 'message written');
  },
});
