import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import addFormatsModule from 'ajv-formats';
import type { FastifyInstance } from 'fastify';
import type { Role } from '../../src/domain/actor.ts';
import { apiDocument, type Json } from '../../src/features/service/document-routes.ts';

// The package is CommonJS whose typings describe an ES default export; at run time the import is the function.
const addFormats = addFormatsModule as unknown as (ajv: Ajv2020) => void;

const DOCUMENT = 'https://api.test/document';

export interface Parameter {
  name: string;
  schema: Json;
  required: boolean;
}

/** One media type of a request or response: its schema, and whether a value fits it. */
export interface Media {
  schema: Json;
  example: unknown;
  /** compiled at the first use */
  validate: ValidateFunction;
}

export interface Operation {
  id: string;
  /** in capitals */
  method: string;
  /** with `{name}` for parameters */
  path: string;
  pathNames: string[];
  query: Parameter[];
  headers: Parameter[];
  /** absent: everybody may call it, without a token */
  roles: readonly Role[] | undefined;
  bodies: ReadonlyMap<string, Media>;
  bodyRequired: boolean;
  /** by status, then by media type; an empty map means no body */
  responses: ReadonlyMap<number, ReadonlyMap<string, Media>>;
}

/** What the document of the running application says: operations, and `resolve` for a schema that may be a `$ref`. */
export interface ApiModel {
  operations: readonly Operation[];
  resolve(schema: Json): Json;
  isProblem: ValidateFunction;
}

/** Reads the document of the application itself, so that an operation which is added is asked without a change here. */
export function readApi(app: FastifyInstance): ApiModel {
  const model = models.get(app) ?? makeModel(app);
  models.set(app, model);
  return model;
}

const models = new WeakMap<FastifyInstance, ApiModel>();

function makeModel(app: FastifyInstance): ApiModel {
  const document = apiDocument(app);
  const ajv = new Ajv2020({ strict: false, allErrors: false });
  addFormats(ajv);
  const text = JSON.stringify(document).replaceAll('"#/components/', `"${DOCUMENT}#/components/`);
  ajv.addSchema(JSON.parse(text) as Json, DOCUMENT);
  const compile = (...place: string[]) => lazily(() => ajv.compile({ $ref: `${DOCUMENT}#${pointerOf(place)}` }));
  const { schemas, responses } = document['components'] as Record<'schemas' | 'responses', Record<string, Json>>;
  const shared = (name: string): Response => responses[name] ?? {};
  const compileShared: Compile = (...place) => compile('components', 'responses', ...place);
  const operations = Object.entries(document['paths'] as Record<string, Json>).flatMap(([path, item]) =>
    Object.entries(item).map(([method, operation]) =>
      readOperation(operation as Json, { path, method, shared, compileShared }, (...place) =>
        compile('paths', path, method, ...place),
      ),
    ),
  );
  return {
    operations,
    resolve: (schema) => {
      const ref = schema['$ref'];
      return typeof ref === 'string' ? (schemas[ref.split('/').at(-1) ?? ''] ?? {}) : schema;
    },
    isProblem: compile('components', 'schemas', 'Problem'),
  };
}

type Compile = (...place: string[]) => ValidateFunction;

interface Response {
  $ref?: string;
  content?: Record<string, Json>;
}

interface Place {
  path: string;
  method: string;
  /** a response that several operations have, by its name in the components */
  shared(name: string): Response;
  compileShared: Compile;
}

function readOperation(operation: Json, at: Place, compile: Compile): Operation {
  const parameters = (operation['parameters'] ?? []) as (Parameter & { in: string })[];
  const body = operation['requestBody'] as { content: Record<string, Json>; required?: boolean } | undefined;
  return {
    id: String(operation['operationId']),
    method: at.method.toUpperCase(),
    path: at.path,
    pathNames: [...at.path.matchAll(/\{(\w+)\}/g)].map((match) => match[1] ?? ''),
    query: parameters.filter((parameter) => parameter.in === 'query'),
    headers: parameters.filter((parameter) => parameter.in === 'header'),
    roles: operation['x-roles'] as Role[] | undefined,
    bodies: readContent(body?.content, (type) => compile('requestBody', 'content', type, 'schema')),
    bodyRequired: body?.required === true,
    responses: new Map(
      Object.entries(operation['responses'] as Record<string, Response>).map(([status, response]) => {
        const name = response.$ref?.split('/').at(-1);
        const { content } = name === undefined ? response : at.shared(name);
        const media = (type: string) => ['content', type, 'schema'];
        const compileHere = (type: string) =>
          name === undefined ? compile('responses', status, ...media(type)) : at.compileShared(name, ...media(type));
        return [Number(status), readContent(content, compileHere)] as const;
      }),
    ),
  };
}

function readContent(content: Record<string, Json> | undefined, compile: (type: string) => ValidateFunction) {
  return new Map(
    Object.entries(content ?? {}).map(([type, media]) => {
      const read: Media = { schema: media['schema'] as Json, example: media['example'], validate: compile(type) };
      return [type, read] as const;
    }),
  );
}

function pointerOf(place: readonly string[]): string {
  return place.map((part) => `/${encodeURIComponent(part.replaceAll('~', '~0').replaceAll('/', '~1'))}`).join('');
}

/** Compiling hundreds of schemas takes seconds; most runs need a part of them. */
function lazily(compile: () => ValidateFunction): ValidateFunction {
  let compiled: ValidateFunction | undefined;
  const validate = (value: unknown) => {
    compiled ??= compile();
    const fits = compiled(value);
    Object.assign(validate, { errors: compiled.errors });
    return fits;
  };
  return validate as ValidateFunction;
}
