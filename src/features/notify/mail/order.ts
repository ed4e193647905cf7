import type { Deps } from '../../../deps.ts';
import { notFound, ProblemError } from '../../../http/frame/problem.ts';
import { inTransaction } from '../../../platform/database/db.ts';
import { appendOutbox } from '../../../platform/queue/outbox.ts';
import { compose, type Language, type MailKind, type Template, unknownWords, wordsIn } from './kinds.ts';
import { commonWords } from './facts.ts';
import { type Due, findRecipient, listEnding, listUndeclared, listWorn } from './facts-store.ts';
import { findMail, listOrderable, markUnsaid, moveMail, type StoredMail } from './store.ts';
import type { Ordered, OrderMails } from './schemas.ts';
import { MAIL_SEND, writeMail, type Written } from './send.job.ts';

const OFF = 'Messages are off on this server: whoever runs it sets MAIL, or SMTP_URL and MAIL_FROM.';

/** @throws ProblemError `state-moved-on` where no messages are written here */
function assertOn({ config }: Deps): void {
  if (config.mail.mode === 'off') throw new ProblemError('state-moved-on', OFF, { currentState: 'off' });
}

const COUNTED: Readonly<Record<Written, keyof Ordered>> = {
  written: 'written',
  'no-address': 'noAddress',
  stopped: 'stopped',
  'too-many': 'tooMany',
  'nothing-to-say': 'nothingToSay',
};

/**
 * Writes messages that somebody orders: to those who have not declared, to those who wait at the line, or a text of one's
 * own. The same order on one day writes nothing twice; a note is one by its text.
 *
 * @throws ProblemError `not-found` (event), `state-moved-on` (off)
 */
export async function orderMails(
  deps: Deps,
  eventId: string,
  { order, requestId }: { order: OrderMails; requestId: string },
): Promise<Ordered> {
  assertOn(deps);
  const entries = await listOrderable(deps.db.prisma, eventId, order);
  if (entries === undefined) throw notFound('event');
  const { kind, subject, text } = order;
  const template = subject === undefined || text === undefined ? {} : { template: { subject, text } };
  const ordered: Ordered = { written: 0, noAddress: 0, stopped: 0, tooMany: 0, nothingToSay: 0 };
  const what = kind === 'note' ? requestId : deps.clock.now().toISOString().slice(0, 10);
  for (const { entryId, concerned } of entries) {
    const dedupeKey = `${kind}/${entryId}/${what}`;
    const came: Written = concerned
      ? await writeMail(deps, { entryId, kind, id: entryId, dedupeKey, ...template, requestId })
      : 'nothing-to-say';
    ordered[COUNTED[came]] += 1;
  }
  return ordered;
}

/**
 * Writes the message with the link of an entry.
 *
 * @throws ProblemError `not-found`, `invalid-request` (a link to elsewhere), `state-moved-on` (off, or no address)
 */
export async function sendLink(
  deps: Deps,
  entryId: string,
  { link, requestId }: { link: string; requestId: string },
): Promise<void> {
  assertOn(deps);
  const { pathname, hash } = new URL(link);
  const at = deps.config.publicUrl;
  const isOurs = pathname === '/garage' && /^#gw_[\w-]+$/.test(hash) && (at === undefined || link.startsWith(`${at}/`));
  if (!isOurs) {
    const detail = 'This is no link to the page of an entrant on this server.';
    throw new ProblemError('invalid-request', `In the body: /link: ${detail}`, {
      errors: [{ pointer: '/link', code: 'not-our-link', detail, in: 'body' }],
    });
  }
  if ((await findRecipient(deps.db.prisma, entryId)) === undefined) throw notFound('entry');
  const order = { entryId, kind: 'link', id: entryId, dedupeKey: `link/${entryId}/${requestId}` } as const;
  const came = await writeMail(deps, { ...order, words: { link }, requestId });
  if (came === 'written') return;
  throw new ProblemError('state-moved-on', 'Nobody can be written to: the entry has no address, or it was withdrawn.', {
    currentState: came,
  });
}

/**
 * Sends a message again that was refused, failed or is in doubt.
 *
 * @throws ProblemError `not-found`, `state-moved-on`
 */
export async function sendAgain(deps: Deps, mailId: string, requestId: string): Promise<StoredMail> {
  assertOn(deps);
  const mail = await findMail(deps.db.prisma, mailId);
  if (mail === undefined) throw notFound('message');
  const wasMoved = await inTransaction(deps.db.prisma, async (tx) => {
    const from = ['refused', 'failed', 'doubt'] as const;
    if (!(await moveMail(tx, mailId, { from, to: 'waiting', at: deps.clock.now() }))) return false;
    await appendOutbox(tx, { name: MAIL_SEND, payload: { mailId }, requestId });
    return true;
  });
  if (!wasMoved) {
    const detail = 'Only a message that was refused, failed or is in doubt can be sent again.';
    throw new ProblemError('state-moved-on', detail, { currentState: mail.state });
  }
  return { ...mail, state: 'waiting', endedAt: null };
}

const SAMPLE = {
  link: 'https://tech.example.org/garage#…',
  verdict: '…',
  verdictShort: '…',
  fixes: '- …',
  submitted: '…',
};
const MORE = { decision: '…', decisionShort: '…', conditions: '- …', reason: '…', gate: '…', until: '…', wear: '- …' };

/** How a text reads for an entry of the event; what only happens later stands as “…”. */
export async function previewTemplate(
  deps: Deps,
  eventId: string,
  of: { kind: MailKind; language: Language; template: Template; entryId: string | undefined },
) {
  const { kind, language, template, entryId } = of;
  const db = deps.db.prisma;
  const entries = await listOrderable(db, eventId, {
    kind: 'note',
    ...(entryId === undefined ? {} : { entryIds: [entryId] }),
  });
  if (entries === undefined) throw notFound('event');
  const first = entries[0];
  const to = first === undefined ? undefined : await findRecipient(db, first.entryId);
  const words = to === undefined ? {} : await commonWords(db, to, language);
  const composed = compose(template, { ...SAMPLE, ...MORE, ...words }, { language, stop: undefined });
  return { ...composed, unknown: unknownWords(template, wordsIn(kind)) };
}

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
