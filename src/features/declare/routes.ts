import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { GENERAL_CAUTION } from '../../domain/cautions.ts';
import { entryParams, IdempotencyKey, IfMatch } from '../../http/frame/common-schemas.ts';
import {
  ACCEPT_LANGUAGE,
  AcceptLanguage,
  etagOf,
  LANGUAGE_DOCUMENTED,
  languageHeaders,
  takesCoding,
} from '../../http/frame/headers.ts';
import { FINDING_EXAMPLE, FindingsQuery, TALLY_EXAMPLE } from '../../http/views/finding-view.ts';
import { parseIdempotencyKey } from '../../http/frame/idempotency.ts';
import { addRoute } from '../../http/frame/route.ts';
import { FORM_EXAMPLE, FormView, QUESTIONS_EXAMPLE, questionsParams, QuestionsView } from './form-schema.ts';
import { getForm } from './form.ts';
import { readQuestions } from './questions.ts';
import { getInspection, listRevisions, saveDeclarationDraft } from './save-draft.ts';
import {
  DraftView,
  INSPECTION_EXAMPLE,
  inspectionParams,
  InspectionView,
  SaveDraft,
  SubmitInspection,
} from './schemas.ts';
import { submitInspection } from './submit.ts';

const DRAFT_EXAMPLE: DraftView = {
  entryId: INSPECTION_EXAMPLE.entryId,
  draftRev: 3,
  verdict: 'barred',
  tally: TALLY_EXAMPLE,
  judgedBy: '5c0e9f4a7b21d806',
  findings: [FINDING_EXAMPLE],
  asked: { cells: ['brake.pedal', 'pad.thickness@FL.in'], because: {} },
  gone: [],
  missing: [{ key: 'brake.pedal' }],
  said: [],
  doubts: [],
  notApplicable: [],
  caution: GENERAL_CAUTION,
};
const ANSWERS_EXAMPLE = {
  answers: { 'oil.grade': '5W-40', 'pad.thickness': { 'FL.in': 7.5, 'FL.out': { value: 10, unit: '1/32in' } } },
};

/** Whose content never changes; others who use the same device have their own copy. */
const KEEP = {
  'cache-control': `private, max-age=${365 * 24 * 3600}, immutable`,
  vary: 'authorization, accept-encoding',
};

const QuestionsHeaders = z.looseObject({
  'accept-encoding': z.string().optional().describe('`br` makes it about a tenth of its size'),
});

/** Declaration: the form, the draft, the submitted revisions. */
export async function inspectionRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/form',
    operationId: 'getForm',
    summary: 'Read what applies to this car, the limits, what is saved and what is missing',
    description:
      'What is only about this car; `asked` says which of the items rules in force need, the others are optional. Labels, help and the texts of the rules are the same for every car of the run group: read them at `questions.address`, once, and keep them.',
    tag: 'Declaration',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    headers: AcceptLanguage,
    success: {
      200: {
        description: 'The form; its ETag is the version of the draft, `"0"` when nothing is saved',
        schema: FormView,
        headers: { ETag: 'Version of the draft', ...LANGUAGE_DOCUMENTED },
        example: FORM_EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params, headers }) => {
      const { form, language } = await getForm(deps, params.entryId, headers);
      return { status: 200, body: form, headers: { etag: etagOf(form.draftRev), ...languageHeaders(language) } };
    },
  });
  addRoute(app, {
    method: 'PUT',
    path: '/entries/:entryId/declaration',
    operationId: 'saveDeclaration',
    summary: 'Save the draft and read the findings so far',
    description:
      'Replaces the draft. `If-Match` is the ETag of the form or of the last save; `"0"` for the first. Answers with what the rules say otherwise than of the draft before, so that a caller who has the findings of the form keeps them current.',
    tag: 'Declaration',
    access: ['entrant'],
    params: entryParams,
    query: FindingsQuery,
    headers: IfMatch.extend(ACCEPT_LANGUAGE),
    body: SaveDraft,
    bodyExample: ANSWERS_EXAMPLE,
    success: {
      200: {
        description: 'Saved, and what the rules say so far',
        schema: DraftView,
        headers: { ETag: 'Version of the draft' },
        example: DRAFT_EXAMPLE,
      },
    },
    problems: ['not-found', 'answers-not-acceptable', 'precondition-required', 'precondition-failed'],
    handle: async ({ params, query, headers, body, actor }) => {
      const input = {
        entryId: params.entryId,
        ifMatch: headers['if-match'],
        body,
        which: query.findings,
        accepts: headers,
      };
      const draft = await saveDeclarationDraft(deps, actor, input);
      return { status: 200, bodyText: JSON.stringify(draft), headers: { etag: etagOf(draft.draftRev) } };
    },
  });
  addQuestionsRoute(app, deps);
  addSubmitRoute(app, deps);
  addReadRoutes(app, deps);
}

function addQuestionsRoute(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'GET',
    path: '/run-groups/:runGroupId/questions/:name',
    operationId: 'getQuestions',
    summary: 'Read what is asked and judged of every car of a run group',
    description:
      'What the form of each entry leaves out. The address is in the form and names the content: what is there never changes, and there is nothing any more when the rules have changed.',
    tag: 'Declaration',
    access: [...STAFF, 'entrant', 'shop'],
    params: questionsParams,
    headers: QuestionsHeaders,
    success: {
      200: {
        description: 'The questions; to be kept as long as forms name this address',
        schema: QuestionsView,
        headers: { 'Cache-Control': 'A year, and immutable', Vary: '`Authorization`, `Accept-Encoding`' },
        example: QUESTIONS_EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params, headers, actor }) => {
      const { text, packed } = await readQuestions(deps, actor, { runGroupId: params.runGroupId, hash: params.name });
      if (!takesCoding(headers['accept-encoding'], 'br')) return { status: 200, bodyText: text, headers: KEEP };
      const coded = { 'content-encoding': 'br', 'content-type': 'application/json; charset=utf-8' };
      return { status: 200, body: await packed(), headers: { ...KEEP, ...coded } };
    },
  });
}

function addSubmitRoute(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/inspections',
    operationId: 'submitInspection',
    summary: 'Submit the declaration and read the verdict',
    description:
      'Immutable from then on; a later submission is the next revision and voids a sign-off before it. Staff may type it for the entrant, who says it (`saidBy`), also outside the window; somebody else then signs the car off.',
    tag: 'Declaration',
    access: ['entrant', 'inspector', 'chief', 'organizer'],
    params: entryParams,
    headers: IdempotencyKey.extend(ACCEPT_LANGUAGE),
    body: SubmitInspection,
    bodyOptional: true,
    bodyExample: ANSWERS_EXAMPLE,
    success: {
      201: {
        description: 'Submitted and judged. A barred car gets no ticket',
        schema: InspectionView,
        headers: { Location: 'The inspection', 'Idempotency-Replayed': '`true` on the answer to a repeated request' },
        example: INSPECTION_EXAMPLE,
      },
    },
    problems: [
      'not-found',
      'idempotency-key-required',
      'idempotency-key-reused',
      'declarations-closed',
      'state-moved-on',
      'answers-not-acceptable',
      'not-acceptable',
    ],
    handle: async ({ params, headers, body, actor, request }) => {
      const key = parseIdempotencyKey(headers['idempotency-key']);
      const { entryId } = params;
      return submitInspection(deps, actor, { entryId, key, body, requestId: request.id, accepts: headers });
    },
  });
}

function addReadRoutes(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/inspections',
    operationId: 'listInspections',
    summary: 'List the submitted revisions',
    description: 'Each with its answers, findings and verdict, the newest first. Submitted revisions never change.',
    tag: 'Declaration',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    query: FindingsQuery,
    success: {
      200: {
        description: 'Newest first',
        schema: z.object({ inspections: z.array(InspectionView).describe('All revisions') }),
        example: { inspections: [INSPECTION_EXAMPLE] },
      },
    },
    problems: ['not-found'],
    handle: async ({ params, query }) => ({
      status: 200,
      body: { inspections: await listRevisions(deps, params.entryId, query.findings) },
    }),
  });
  addRoute(app, {
    method: 'GET',
    path: '/inspections/:inspectionId',
    operationId: 'getInspection',
    summary: 'Read a submitted revision with its findings',
    description: 'Answers, findings in the order of the rules, verdict, and the hash of the rules that judged it.',
    tag: 'Declaration',
    access: [...STAFF, 'entrant'],
    params: inspectionParams,
    query: FindingsQuery,
    headers: AcceptLanguage,
    success: { 200: { description: 'The revision', schema: InspectionView, example: INSPECTION_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, query, actor, headers }) => ({
      status: 200,
      body: await getInspection(deps, actor, {
        inspectionId: params.inspectionId,
        which: query.findings,
        accepts: headers,
      }),
    }),
  });
}
