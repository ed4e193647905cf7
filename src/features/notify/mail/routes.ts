import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import { entryParams, eventParams, Id } from '../../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../../http/frame/cursor.ts';
import { notFound } from '../../../http/frame/problem.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { orderMails, sendAgain, sendLink } from './order.ts';
import {
  MAIL_EXAMPLE,
  MailList,
  mailParams,
  MailQuery,
  MailSummary,
  MailView,
  Ordered,
  OrderMails,
  SendLink,
  viewSummary,
} from './schemas.ts';
import { findByKey, findMail, listMails, stopByKey } from './store.ts';

const LIST_DESCRIPTION = `Each with what the mail server said. A server that took a message can still bring it back later: that goes to
the address for answers (MAIL_REPLY_TO), not here. With MAIL=keep nothing is sent, and everything can be read.`;

const ORDER_DESCRIPTION = `Reminders go to those who have not declared, times of the line to those who wait there, a note to all that are
named. Entries without an address, and those whose people want no more messages, are counted.`;

const common = { tag: 'Messages', access: ['organizer'] } as const;

/** Messages to entrants: what was written, what became of it, and what people order. */
export async function mailRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addReading(app, deps);
  addOrdering(app, deps);
}

function addReading(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/events/:eventId/mails',
    operationId: 'listMails',
    summary: 'List the messages to the entrants of an event',
    description: LIST_DESCRIPTION,
    params: eventParams,
    query: MailQuery,
    success: {
      200: {
        description: 'One page of messages',
        schema: MailList,
        headers: { Link: 'The next page, `rel="next"`' },
        example: { mode: 'send', mails: [MAIL_EXAMPLE] },
      },
    },
    problems: ['not-found', 'cursor-not-valid'],
    handle: async ({ params: { eventId }, query: { entryId, state, cursor, limit }, request }) => {
      const scope = { list: 'listMails', filters: { eventId, entryId: entryId ?? null, state: state ?? null } };
      const before = decodeCursor(scope, cursor, z.tuple([Id]))?.[0];
      if ((await deps.db.prisma.event.count({ where: { id: eventId } })) === 0) throw notFound('event');
      const rows = await listMails(deps.db.prisma, { eventId, entryId, state, before, take: limit + 1 });
      const page = toPage(rows, { scope, limit, url: request.url, positionOf: ({ mailId }) => [mailId] });
      const { mode } = deps.config.mail;
      return { status: 200, body: { mode, mails: page.rows.map(viewSummary), next: page.next }, headers: page.headers };
    },
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/mails/:mailId',
    operationId: 'getMail',
    summary: 'Read a message as it was written',
    description:
      'With the number of tries and what the mail server said last. Keys in links are taken out once it is sent.',
    params: mailParams,
    success: {
      200: {
        description: 'The message',
        schema: MailView,
        example: { ...MAIL_EXAMPLE, text: 'Hello …', html: '<p>Hello …</p>' },
      },
    },
    problems: ['not-found'],
    handle: async ({ params }) => {
      const mail = await findMail(deps.db.prisma, params.mailId);
      if (mail === undefined) throw notFound('message');
      return { status: 200, body: { ...viewSummary(mail), text: mail.text, html: mail.html } };
    },
  });
}

function addOrdering(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/events/:eventId/mails',
    operationId: 'orderMails',
    summary: 'Write to many entrants',
    description: ORDER_DESCRIPTION,
    params: eventParams,
    body: OrderMails,
    bodyExample: { kind: 'reminder' },
    success: {
      202: {
        description: 'Written, to be sent',
        schema: Ordered,
        example: { written: 12, noAddress: 1, stopped: 0, tooMany: 0, nothingToSay: 37 },
      },
    },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, body, request }) => ({
      status: 202,
      body: await orderMails(deps, params.eventId, { order: body, requestId: request.id }),
    }),
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/entries/:entryId/mails',
    operationId: 'sendLink',
    summary: 'Send an entrant the link that was made for the entry',
    description: 'The link is taken out of what is kept here once it is sent: it is a key.',
    params: entryParams,
    body: SendLink,
    bodyExample: { link: 'https://tech.example.org/garage#gw_0123456789abcdefghij' },
    success: { 202: { description: 'Written, to be sent' } },
    problems: ['not-found', 'state-moved-on', 'invalid-request'],
    handle: async ({ params, body, request }) => {
      await sendLink(deps, params.entryId, { link: body.link, requestId: request.id });
      return { status: 202 };
    },
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/mails/:mailId/again',
    operationId: 'sendMailAgain',
    summary: 'Send a message again that was refused, failed or is in doubt',
    description: 'With the id that it had (`Message-ID`), so that whoever gets it twice can tell.',
    params: mailParams,
    success: {
      202: { description: 'Waits for its turn', schema: MailSummary, example: { ...MAIL_EXAMPLE, state: 'waiting' } },
    },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, request }) => ({
      status: 202,
      body: viewSummary(await sendAgain(deps, params.mailId, request.id)),
    }),
  });
}

const params = z.strictObject({
  key: z
    .string()
    .regex(/^[\w-]{20,40}$/)
    .describe('From the message'),
});

const HEADERS = {
  'content-type': 'text/html; charset=utf-8',
  'content-security-policy': "default-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
  'cache-control': 'no-store',
  'referrer-policy': 'no-referrer',
};

// Both languages on one page: whoever comes here has chosen none. A car number is letters and digits only.
const page = (body: string): string =>
  `<!doctype html>\n<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>Messages</title>\n<body>\n${body}\n</body></html>\n`;

const ask = (number: string): string =>
  page(`<h1>Messages about car ${number}</h1>
<p>No more reminders, times and notes about this car? You are still told what happens to it: your declaration, stops, the decision of the line.</p>
<p lang="de">Keine Erinnerungen, Zeiten und Hinweise mehr zu diesem Auto? Was mit ihm geschieht, erfährst Du weiter: Erklärung, Sperren, Abnahme.</p>
<form method="post"><button type="submit">Stop · Abbestellen</button></form>`);

const done = (number: string): string =>
  page(`<h1>Car ${number}</h1>
<p>Done. To have them again, write to the organizer.</p>
<p lang="de">Erledigt. Willst Du sie wieder haben, schreib dem Veranstalter.</p>`);

const answer = { schema: z.string().describe('A page'), contentType: 'text/html', example: '<!doctype html>' };

/** Where somebody ends messages about an entry: by hand (GET, then POST), or a mail program at once (RFC 8058). */
export async function mailStopRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  await app.register(async (plain) => {
    // What a form or a mail program sends says nothing that is needed; it is taken as the text that it is.
    plain.removeAllContentTypeParsers();
    plain.addContentTypeParser(
      ['application/x-www-form-urlencoded', 'multipart/form-data'],
      { parseAs: 'string', bodyLimit: 4096 },
      (_request, body, next) => next(null, body),
    );
    const common = { tag: 'Messages', access: 'public', path: '/mail/stop/:key', params } as const;
    addRoute(plain, {
      ...common,
      method: 'GET',
      operationId: 'askMailStop',
      summary: 'Read how messages are ended',
      description: 'Changes nothing: programs open links too.',
      success: { 200: { description: 'The page', ...answer } },
      problems: ['not-found'],
      handle: async ({ params: { key } }) => {
        const number = await findByKey(deps.db.prisma, key);
        if (number === undefined) throw notFound('message');
        return { status: 200, body: ask(number), headers: HEADERS };
      },
    });
    addRoute(plain, {
      ...common,
      method: 'POST',
      operationId: 'stopMail',
      summary: 'End reminders and notes about an entry',
      description: 'By the link of a message (RFC 8058). What happens to the car is still told.',
      body: z.string().nullish().describe('Not read: the address says all'),
      bodyType: 'application/x-www-form-urlencoded',
      bodyOptional: true,
      bodyExample: 'List-Unsubscribe=One-Click',
      success: { 200: { description: 'Done', ...answer } },
      problems: ['not-found'],
      handle: async ({ params: { key } }) => {
        const number = await stopByKey(deps.db.prisma, key, deps.clock.now());
        if (number === undefined) throw notFound('message');
        return { status: 200, body: done(number), headers: HEADERS };
      },
    });
  });
}
