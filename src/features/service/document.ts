import type { FastifyInstance } from 'fastify';

export type Json = Record<string, unknown>;

const REF_PREFIX = '#/components/schemas/';

/**
 * The API document as it is served and committed. Every named schema exists in a request and a response form; those
 * that nothing refers to are left out.
 *
 * Shapes: an OpenAPI 3.1 object, a copy that the caller may keep.
 */
export function apiDocument(app: FastifyInstance): Json {
  const document = structuredClone(app.swagger()) as unknown as Json;
  const components = (document['components'] ?? {}) as Json;
  const schemas = (components['schemas'] ?? {}) as Json;
  const used = reachable([document['paths'], components['responses'], document['webhooks']], schemas);
  components['schemas'] = Object.fromEntries(Object.entries(schemas).filter(([name]) => used.has(name)));
  return document;
}

function reachable(from: unknown, schemas: Json): Set<string> {
  const used = new Set<string>();
  const waiting: unknown[] = [from];
  while (waiting.length > 0) {
    const node = waiting.pop();
    if (typeof node !== 'object' || node === null) continue;
    waiting.push(...Object.values(node));
    const ref = (node as Json)['$ref'];
    if (typeof ref !== 'string' || !ref.startsWith(REF_PREFIX)) continue;
    const name = ref.slice(REF_PREFIX.length);
    if (!used.has(name)) waiting.push(schemas[name]);
    used.add(name);
  }
  return used;
}
