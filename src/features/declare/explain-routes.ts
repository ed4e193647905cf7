import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { AcceptLanguage, LANGUAGE_DOCUMENTED, languageHeaders } from '../../http/frame/language.ts';
import { addRoute } from '../../http/frame/route.ts';
import { explainFinding } from './explain.ts';
import { EXPLANATION_EXAMPLE, explanationParams, ExplanationView } from './explain-schemas.ts';

/** Why a rule found what it found. */
export async function explanationRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/inspections/:inspectionId/findings/:ruleId',
    operationId: 'explainFinding',
    summary: 'Read how a rule came to its findings, in words and in numbers',
    description:
      'From the stored inspection and the rules that judged it. A rule that exists and gave no finding on this car is answered with `applies: false` and the reason.',
    tag: 'Declaration',
    access: [...STAFF, 'entrant'],
    params: explanationParams,
    headers: AcceptLanguage,
    success: {
      200: {
        description: 'The explanation, position by position',
        schema: ExplanationView,
        headers: LANGUAGE_DOCUMENTED,
        example: EXPLANATION_EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params, actor, headers }) => {
      const { view, language } = await explainFinding(deps, actor, { ...params, accepts: headers });
      return { status: 200, body: view, headers: languageHeaders(language) };
    },
  });
}
