import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../../deps.ts';
import { eventParams } from '../../../http/frame/common-schemas.ts';
import { notFound, ProblemError } from '../../../http/frame/problem.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { defaultTemplate, LANGUAGES, MAIL_KINDS, unknownWords, wordsIn } from './kinds.ts';
import { previewTemplate } from './order.ts';
import {
  PreviewTemplate,
  PreviewView,
  TemplateBody,
  TemplateList,
  templateParams,
  type TemplateView,
} from './schemas.ts';
import { dropTemplate, listOwnTemplates, saveTemplate } from './store.ts';

const BODY = {
  subject: '{event}: car {number} is not declared yet',
  text: 'Hello {name},\n\nplease declare by {closes}.',
};
const VIEW: TemplateView = {
  kind: 'reminder',
  language: 'en',
  ...BODY,
  words: ['name', 'number', 'event'],
  own: false,
};

async function assertEvent({ db }: Deps, eventId: string): Promise<void> {
  if ((await db.prisma.event.count({ where: { id: eventId } })) === 0) throw notFound('event');
}

async function listTemplates(deps: Deps, eventId: string): Promise<TemplateView[]> {
  await assertEvent(deps, eventId);
  const own = await listOwnTemplates(deps.db.prisma, eventId);
  return MAIL_KINDS.flatMap((kind) =>
    LANGUAGES.map((language): TemplateView => {
      const words = [...wordsIn(kind)];
      const mine = own.find((one) => one.kind === kind && one.language === language);
      if (mine === undefined) return { kind, language, ...defaultTemplate(kind, language), words, own: false };
      return { ...mine, words, own: true, changedAt: mine.changedAt.toISOString() };
    }),
  );
}

/** Texts of messages: those that come with the server, and what an event says instead. Organizers only. */
export async function mailTemplateRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Messages', access: ['organizer'] } as const;
  const path = '/events/:eventId/mail-templates/:kind/:language';
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/events/:eventId/mail-templates',
    operationId: 'listMailTemplates',
    summary: 'List the texts of messages',
    description:
      'Each kind of message in each language, as it is written for this event, and whether that was changed here.',
    params: eventParams,
    success: { 200: { description: 'The texts', schema: TemplateList, example: { templates: [VIEW] } } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: { templates: await listTemplates(deps, params.eventId) } }),
  });
  addRoute(app, {
    ...common,
    method: 'PUT',
    path,
    operationId: 'changeMailTemplate',
    summary: 'Write a text of messages anew',
    description:
      'For this event and one language. It may use the names that the list gives; a name that is not known is refused.',
    params: templateParams,
    body: TemplateBody,
    bodyExample: BODY,
    success: { 204: { description: 'Saved; messages from now on are written so' } },
    problems: ['not-found', 'invalid-request'],
    handle: async ({ params, body, actor }) => {
      await assertEvent(deps, params.eventId);
      const unknown = unknownWords(body, wordsIn(params.kind));
      if (unknown.length > 0) {
        const detail = `Nothing fills in {${unknown.join('}, {')}}. There are: {${wordsIn(params.kind).join('}, {')}}.`;
        throw new ProblemError('invalid-request', `In the body: /text: ${detail}`, {
          errors: [{ pointer: '/text', code: 'unknown-word', detail, in: 'body' }],
        });
      }
      await saveTemplate(deps.db.prisma, params, { template: body, actor, at: deps.clock.now() });
      return { status: 204 };
    },
  });
  addRoute(app, {
    ...common,
    method: 'DELETE',
    path,
    operationId: 'deleteMailTemplate',
    summary: 'Go back to the text that comes with the server',
    description: 'Messages that were written already stay as they are.',
    params: templateParams,
    success: { 204: { description: 'Done' } },
    problems: ['not-found'],
    handle: async ({ params }) => {
      await assertEvent(deps, params.eventId);
      await dropTemplate(deps.db.prisma, params);
      return { status: 204 };
    },
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: `${path}/preview`,
    operationId: 'previewMailTemplate',
    summary: 'See how a text reads, before it is saved',
    description: 'Filled with an invented entrant; nothing is kept or sent.',
    params: templateParams,
    body: PreviewTemplate,
    bodyExample: BODY,
    success: {
      200: {
        description: 'As it would be sent',
        schema: PreviewView,
        example: { ...BODY, html: '<p>Hello …</p>', unknown: [] },
      },
    },
    problems: ['not-found'],
    handle: async ({ params: { eventId, kind, language }, body: { entryId, ...template } }) => ({
      status: 200,
      body: await previewTemplate(deps, eventId, { kind, language, template, entryId }),
    }),
  });
}
