import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { appendOutbox } from '../../platform/queue/outbox.ts';
import { sendBySmtp } from '../../platform/outgoing/smtp.ts';
import { countSentSince, findMail, forgetLink, moveMail, type StoredMail } from './store.ts';

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
