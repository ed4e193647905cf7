import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Calculation } from '../../domain/trade/calculation.ts';
import { CALCULATIONS } from '../../domain/trade/calculations.ts';
import { etagOf, isNotModified } from '../../http/frame/headers.ts';
import { ProblemError } from '../../http/frame/problem.ts';
import { addRoute, type Success } from '../../http/frame/route.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import {
  calculate,
  CalculationList,
  chooseType,
  exampleAnswer,
  listCalculations,
  mediaTypesOf,
  operationIdOf,
  SVG_TYPE,
  viewWorked,
  workedView,
} from './calculate.ts';
import { PLOTS } from './plots.ts';
import { renderSvg } from './render-svg.ts';

const PLOT_DESCRIPTION = `\n\nWith \`Accept: image/svg+xml\` the answer is a plot of the result, for screen or print without
colour.`;

const SVG_EXAMPLE =
  '<svg xmlns="http://www.w3.org/2000/svg" role="img" width="720" height="480"><title>…</title><desc>…</desc>…</svg>';

/** A plot needs nothing but itself, whatever opens it. */
const SVG_HEADERS = {
  'content-type': `${SVG_TYPE}; charset=utf-8`,
  'content-security-policy': "default-src 'none'; style-src 'unsafe-inline'",
};

const IfNoneMatch = z.looseObject({
  'if-none-match': z.string().optional().describe('ETag of the copy the caller has'),
});

/** The computations of the trade on their own: one operation each, and the list of them. */
export async function calculationRoutes(app: FastifyInstance): Promise<void> {
  addListRoute(app);
  for (const calculation of CALCULATIONS) addCalculationRoute(app, calculation);
  addUnknownRoute(app);
}

function addListRoute(app: FastifyInstance): void {
  const list = listCalculations();
  const headers = { etag: etagOf(canonicalHash(list).slice(0, 12)), 'cache-control': 'private, no-cache' };
  const documented = { ETag: 'Version of the list' };
  const example = { ...list, calculations: list.calculations.filter(({ name }) => name === 'tyre-age') };
  addRoute(app, {
    tag: 'Calculations',
    access: 'any',
    method: 'GET',
    path: '/calculations',
    operationId: 'listCalculations',
    summary: 'List the computations',
    description:
      'All computations with their sources, the address to ask and a body that works. Changes with the server.',
    headers: IfNoneMatch,
    success: {
      200: { description: 'The computations', schema: CalculationList, headers: documented, example },
      304: { description: 'The copy the caller has is current', headers: documented },
    },
    problems: [],
    handle: async ({ headers: { 'if-none-match': known } }) =>
      isNotModified(known, headers.etag) ? { status: 304, headers } : { status: 200, body: list, headers },
  });
}

function addCalculationRoute(app: FastifyInstance, calculation: Calculation): void {
  const { name, title, summary } = calculation;
  const offered = mediaTypesOf(name);
  addRoute(app, {
    tag: 'Calculations',
    access: 'any',
    method: 'POST',
    path: `/calculations/${name}`,
    operationId: operationIdOf(name),
    summary: title,
    description: `${summary}${PLOTS.has(name) ? PLOT_DESCRIPTION : ''}`,
    body: calculation.input,
    bodyExample: calculation.example,
    success: { 200: successOf(calculation) },
    problems: ['media-type-not-offered', 'calculation-refused'],
    handle: async ({ body, request, reply }) => {
      reply.header('vary', 'Accept');
      const type = chooseType(request.headers.accept, offered);
      if (type === undefined) throw notOffered(name, offered);
      const worked = calculate(calculation, body);
      const plot = type === SVG_TYPE ? PLOTS.get(name) : undefined;
      if (plot === undefined) return { status: 200, body: viewWorked(calculation, worked) };
      return { status: 200, body: await renderSvg(plot(body, worked.result)), headers: SVG_HEADERS };
    },
  });
}

function successOf(calculation: Calculation): Success {
  const plot = { schema: z.string().describe('SVG 1.1'), example: SVG_EXAMPLE };
  return {
    description: 'The result with its working',
    schema: workedView(calculation.result),
    headers: { Vary: '`Accept`' },
    ...(PLOTS.has(calculation.name) ? { alternatives: { [SVG_TYPE]: plot } } : {}),
    // Worked out when the document is asked for: a start of the server needs no examples.
    get example() {
      return exampleAnswer(calculation);
    },
  };
}

function notOffered(name: string, offered: readonly string[]): ProblemError {
  const detail = `${name} answers in ${offered.join(' or ')}; \`Accept\` takes none of these.`;
  return new ProblemError('media-type-not-offered', detail, { offered });
}

/** Not an operation of the document: it only says which computations there are, before any body is read. */
function addUnknownRoute(app: FastifyInstance): void {
  const names = CALCULATIONS.map(({ name }) => name);
  app.route({
    method: 'POST',
    url: '/calculations/:name',
    config: { access: 'any' },
    schema: { hide: true },
    onRequest: async () => {
      throw new ProblemError('not-found', `There is no such computation. There are: ${names.join(', ')}.`);
    },
    handler: async () => undefined,
  });
}
