import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../../deps.ts';
import { STAFF } from '../../../domain/actor.ts';
import { entryParams } from '../../../http/frame/common-schemas.ts';
import { AcceptLanguage, LANGUAGE_DOCUMENTED, languageHeaders } from '../../../http/frame/language.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { readCountdown } from './read-countdown.ts';
import { COUNTDOWN_EXAMPLE, CountdownView } from './schemas.ts';

/** What is to be done for a car from two weeks before an event to after it. */
export async function countdownRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/countdown',
    operationId: 'getCountdown',
    summary: 'What is to be done for the car of an entry, and by when',
    description:
      'From what is saved of the declaration now, the log, and what the line asked for: what to order, what to put right in which order, ' +
      'what to do the night before and in the morning, what to watch between sessions and what is due before the next event; what to pack; ' +
      'what the line looks at on every car; the dates. Minutes and days of waiting are common practice, no source; a forecast of wear ' +
      'comes with the chance it holds with. It decides nothing.',
    tag: 'Entries',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    headers: AcceptLanguage,
    success: {
      200: {
        description: 'The countdown',
        schema: CountdownView,
        headers: LANGUAGE_DOCUMENTED,
        example: COUNTDOWN_EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params: { entryId }, headers }) => {
      const { view, language } = await readCountdown(deps, entryId, headers);
      return { status: 200, body: view, headers: languageHeaders(language) };
    },
  });
}
