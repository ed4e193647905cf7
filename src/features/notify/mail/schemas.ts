import { z } from 'zod';
import { Id, InstantOut, line, Page, text } from '../../../http/frame/common-schemas.ts';
import { LANGUAGES, MAIL_KINDS, ORDERED_KINDS } from './kinds.ts';
import { MAIL_STATES, type StoredMail } from './store.ts';

export const mailParams = z.strictObject({ mailId: Id });

const State = z
  .enum(MAIL_STATES)
  .describe(
    '`waiting` for its turn; `sending`; `sent`: the mail server took it; `kept`: nothing is sent here, it can be read; `refused`: the mail server said no; `failed`: not taken in all tries; `doubt`: it was handed over and no answer came, it may arrive; `stopped`',
  );

export const MailQuery = z.strictObject({
  entryId: Id.optional().describe('Only messages about this entry'),
  state: State.optional(),
  ...Page,
});

const summary = {
  mailId: Id,
  eventId: Id,
  entryId: Id,
  carNumber: z.string().describe('Exact text'),
  kind: z.enum(MAIL_KINDS).describe('What it is about'),
  language: z.enum(LANGUAGES).describe('Language it is written in'),
  address: z.string().describe('Where it goes'),
  subject: z.string().describe('Subject'),
  state: State,
  reply: z.string().describe('What the mail server said last, or why there was no conversation; empty: nothing yet'),
  attempts: z.int().describe('Number of tries'),
  createdAt: InstantOut,
  endedAt: InstantOut.optional(),
};

export const MailSummary = z.object(summary).meta({ id: 'MailSummary' });
export type MailSummary = z.infer<typeof MailSummary>;

export const MailList = z.object({
  mode: z.enum(['off', 'keep', 'send']).describe('Whether messages are written, and sent'),
  mails: z.array(MailSummary).describe('Newest first'),
  next: z.string().optional().describe('Cursor of the next page'),
});

export const MailView = z
  .object({
    ...summary,
    text: z.string().describe('As plain text; the link of a sent message is left out'),
    html: z.string().describe('As HTML'),
  })
  .meta({ id: 'Mail' });
export type MailView = z.infer<typeof MailView>;

const Template = {
  subject: line(200).describe('Subject; words in braces are filled in'),
  text: text(8000).describe('Text; words in braces are filled in, empty lines part paragraphs'),
};

export const OrderMails = z
  .strictObject({
    kind: z
      .enum(ORDERED_KINDS)
      .describe('`reminder`: who has not declared; `line-time`: who waits at the line; `note`: your own text'),
    runGroupId: Id.optional().describe('Only entries of this run group'),
    entryIds: z.array(Id).min(1).max(500).optional().describe('Only these entries'),
    subject: Template.subject.optional(),
    text: Template.text.optional(),
  })
  .refine(({ kind, subject, text: own }) => kind !== 'note' || (subject !== undefined && own !== undefined), {
    message: 'a note needs a subject and a text',
    path: ['text'],
  })
  .meta({ id: 'OrderMails' });
export type OrderMails = z.infer<typeof OrderMails>;

const count = z.int().describe('Number of entries');
export const Ordered = z
  .object({
    written: count,
    noAddress: count.describe('Entries without an address'),
    stopped: count.describe('Entries whose people want no more messages'),
    tooMany: count.describe('Entries that got many messages within a day'),
    nothingToSay: count.describe('Entries it does not concern'),
  })
  .meta({ id: 'OrderedMails' });
export type Ordered = z.infer<typeof Ordered>;

export const SendLink = z
  .strictObject({
    link: z.url().max(500).describe('The link of the entry, as it was made; it must lead to this server'),
  })
  .meta({ id: 'SendLink' });

export const templateParams = z.strictObject({
  eventId: Id,
  kind: z.enum(MAIL_KINDS).describe('Kind of message'),
  language: z.enum(LANGUAGES).describe('Language'),
});

export const TemplateBody = z.strictObject(Template).meta({ id: 'MailTemplateBody' });

export const PreviewTemplate = z
  .strictObject({ ...Template, entryId: Id.optional().describe('For which entry; absent: the first of the event') })
  .meta({ id: 'PreviewMailTemplate' });

export const TemplateView = z
  .object({
    kind: z.enum(MAIL_KINDS).describe('Kind of message'),
    language: z.enum(LANGUAGES).describe('Language'),
    subject: z.string().describe('Subject with words in braces'),
    text: z.string().describe('Text with words in braces'),
    words: z.array(z.string()).describe('Words in braces that are filled in'),
    own: z.boolean().describe('`false`: the text that comes with the server'),
    changedBy: z.string().optional().describe('Who changed it'),
    changedAt: InstantOut.optional(),
  })
  .meta({ id: 'MailTemplate' });
export type TemplateView = z.infer<typeof TemplateView>;

export const TemplateList = z.object({ templates: z.array(TemplateView).describe('Every kind in every language') });

export const PreviewView = z
  .object({
    subject: z.string().describe('Subject'),
    text: z.string().describe('Plain text'),
    html: z.string().describe('HTML'),
    unknown: z.array(z.string()).describe('Words in braces that nothing fills in; they stay as they are'),
  })
  .meta({ id: 'MailPreview' });

/** A message as lists show it. */
export function viewSummary(mail: StoredMail): MailSummary {
  const { mailId, eventId, entryId, carNumber, kind, language, address, subject, state, reply, attempts } = mail;
  return {
    mailId,
    eventId,
    entryId,
    carNumber,
    kind,
    language,
    address,
    subject,
    state,
    reply,
    attempts,
    createdAt: mail.createdAt.toISOString(),
    ...(mail.endedAt === null ? {} : { endedAt: mail.endedAt.toISOString() }),
  };
}

export const MAIL_EXAMPLE: MailSummary = {
  mailId: '019ab8f0-0000-7000-8000-0000000000a7',
  eventId: '019ab8f0-0000-7000-8000-0000000000b1',
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  kind: 'reminder',
  language: 'en',
  address: 'ines@example.org',
  subject: 'Spring track weekend: car 42 is not declared yet',
  state: 'sent',
  reply: '250 2.0.0 OK',
  attempts: 1,
  createdAt: '2026-06-11T08:00:00.000Z',
  endedAt: '2026-06-11T08:00:02.000Z',
};
