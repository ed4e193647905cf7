import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { appendOutbox } from '../../platform/queue/outbox.ts';
import { MAIL_WRITE } from '../../records/notify-entrant.ts';
import { compose, kindOf, type Language, type MailKind, STOPPABLE, type Template } from './kinds.ts';
import { commonWords, ownWords } from './facts.ts';
import { type Due, findRecipient, listEnding, listUndeclared, listWorn, type Recipient } from './facts-store.ts';
import { MAIL_SEND } from './send.job.ts';
import { countOfEntry, findTemplate, hasMail, insertMail, isStopped, markUnsaid, newStopKey } from './store.ts';

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

const Payload = z.strictObject({
  entryId: z.uuid(),
  /** `noun.verb` */
  happened: z.string().max(60),
  id: z.uuid(),
  dedupeKey: z.string().max(200),
});

/** Writes the message about something that happened to an entry; what has no text of its own is not mailed. */
export const mailWriteJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: MAIL_WRITE,
  payload: Payload,
  attempts: 8,
  backoffMs: 2000,
  async handle(deps, { entryId, happened, id, dedupeKey }, context) {
    const kind = kindOf(happened);
    if (kind === undefined || deps.config.mail.mode === 'off') return;
    const written = await writeMail(deps, { entryId, kind, id, dedupeKey, requestId: context.requestId });
    context.log.info({ entryId, kind, written }, 'message written');
  },
});

/** Hours before the close of declarations at which whoever has not declared is reminded. */
const REMIND_HOURS = [72, 24] as const;

/** Tells what only the clock knows: who has not declared, whose clearance ends soon, what wore. Returns how many. */
export async function mailByTheClock(deps: Deps, signal?: AbortSignal): Promise<number> {
  if (deps.config.mail.mode === 'off') return 0;
  const now = deps.clock.now();
  const { pool } = deps.db;
  const due: [MailKind, Due[]][] = [];
  for (const [at, hours] of REMIND_HOURS.entries()) {
    due.push(['reminder', await listUndeclared(pool, now, { within: hours, after: REMIND_HOURS[at + 1] ?? 0 })]);
  }
  due.push(['expires', await listEnding(pool, now)], ['wear', await listWorn(pool, now)]);
  let written = 0;
  for (const [kind, entries] of due) {
    for (const { entryId, id, dedupeKey } of entries) {
      if (signal?.aborted === true) return written;
      const came = await writeMail(deps, { entryId, kind, id, dedupeKey });
      if (came === 'written') written += 1;
      // What could not be said of an entry would stay due for ever and take the place of those who come after it.
      if (came === 'nothing-to-say') await markUnsaid(deps.db.prisma, { dedupeKey, entryId }, now);
    }
  }
  return written;
}
