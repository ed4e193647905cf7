import { pascalCase } from '../../http/openapi/openapi-names.ts';
import type { Json } from './document-routes.ts';

/** Where the example of an answer is served, and what it is. */
export interface AnswerExample {
  mediaType: string;
  value: unknown;
}

interface Operation {
  operationId: string;
  parameters?: Json[];
  responses: Record<string, { $ref?: string; headers?: Json; content?: Record<string, Json> }>;
}

type Shared = Record<'parameters' | 'headers', Map<string, Json>>;

/**
 * The document for programs: what several operations have stands once in the components, and the examples of answers
 * stand at addresses of their own. It says the same as the whole one, in less than half of the bytes.
 *
 * @param whole what `apiDocument` made; it is changed
 */
export function leanDocument(whole: Json): Json {
  const components = whole['components'] as Record<string, Json>;
  const shared: Shared = { parameters: new Map(), headers: new Map() };
  // those that have a name already keep it for themselves
  for (const [name, header] of Object.entries(components['headers'] ?? {})) shared.headers.set(name, header as Json);
  for (const operation of operationsIn(whole)) leanOperation(operation, shared, components);
  for (const { post } of Object.values(whole['webhooks'] as Record<string, { post: Operation }>)) {
    post.parameters = shareParameters(post.parameters ?? [], shared);
  }
  for (const response of Object.values(components['responses'] ?? {}) as Operation['responses'][string][]) {
    if (response.headers !== undefined) response.headers = shareHeaders(response.headers, shared);
    for (const media of Object.values(response.content ?? {})) delete media['example'];
  }
  components['parameters'] = Object.fromEntries(shared.parameters);
  components['headers'] = Object.fromEntries(shared.headers);
  return whole;
}

function leanOperation(operation: Operation, shared: Shared, components: Record<string, Json>): void {
  if (operation.parameters !== undefined) operation.parameters = shareParameters(operation.parameters, shared);
  for (const [status, response] of Object.entries(operation.responses)) {
    if (response.headers !== undefined) response.headers = shareHeaders(response.headers, shared);
    for (const [type, media] of Object.entries(response.content ?? {})) {
      if ('example' in media) moveExample(media, exampleName(operation.operationId, status, type));
      media['schema'] = shareEnvelope(media['schema'] as Json, components);
    }
  }
}

/** The examples of answers by name, of the whole document. */
export function answerExamples(whole: Json): Map<string, AnswerExample> {
  return new Map(
    operationsIn(whole).flatMap(({ operationId, responses }) =>
      Object.entries(responses).flatMap(([status, { content }]) =>
        Object.entries(content ?? {})
          .filter(([, media]) => 'example' in media)
          .map(([mediaType, media]) => {
            const name = exampleName(operationId, status, mediaType);
            return [name, { mediaType, value: media['example'] }] as const;
          }),
      ),
    ),
  );
}

function operationsIn(document: Json): Operation[] {
  return Object.values(document['paths'] as Record<string, Record<string, Operation>>).flatMap((item) =>
    Object.values(item),
  );
}

/** `createEntry-201`; other media types than JSON are named too. */
function exampleName(operationId: string, status: string, mediaType: string): string {
  const kind = mediaType === 'application/json' ? '' : `-${mediaType.split('/')[1]?.replaceAll(/[^a-z0-9]+/g, '-')}`;
  return `${operationId}-${status}${kind}`;
}

function moveExample(media: Json, name: string): void {
  delete media['example'];
  media['examples'] = { answer: { externalValue: `/docs/examples/${name}` } };
}

function shareParameters(parameters: readonly Json[], { parameters: known }: Shared): Json[] {
  return parameters.map((parameter) => {
    const name = nameFor(String(parameter['name']), parameter, known);
    return name === undefined ? parameter : { $ref: `#/components/parameters/${name}` };
  });
}

function shareHeaders(headers: Json, { headers: known }: Shared): Json {
  return Object.fromEntries(
    Object.entries(headers).map(([header, says]) => {
      if ('$ref' in (says as Json)) return [header, says];
      const name = nameFor(header, says as Json, known);
      return [header, name === undefined ? says : { $ref: `#/components/headers/${name}` }];
    }),
  );
}

/** The component with this content, made where the name is free; `undefined`: others have the name, it stays where it is. */
function nameFor(name: string, content: Json, known: Map<string, Json>): string | undefined {
  const component = pascalCase(name);
  const there = known.get(component);
  if (there === undefined) known.set(component, content);
  return there === undefined || JSON.stringify(there) === JSON.stringify(content) ? component : undefined;
}

const ENVELOPE = 'CalculationAnswer';

/** All computations answer with the same around a result of their own. */
function shareEnvelope(schema: Json, components: Record<string, Json>): Json {
  const properties = schema['properties'] as Json | undefined;
  if (properties === undefined || !('result' in properties) || !('assumptions' in properties)) return schema;
  const { result, ...common } = properties;
  const required = (schema['required'] as string[]).filter((name) => name !== 'result');
  const schemas = components['schemas'] ?? {};
  schemas[ENVELOPE] ??= {
    type: 'object',
    description: 'What every computation answers around its result',
    properties: common,
    required,
  };
  const own = { type: 'object', properties: { result }, required: ['result'] };
  return { allOf: [{ $ref: `#/components/schemas/${ENVELOPE}` }, own] };
}
