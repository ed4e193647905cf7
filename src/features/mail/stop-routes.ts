import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { findByKey, stopByKey } from './store.ts';

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
