import { DOCUMENT_NAMES, type DocumentName, DOCUMENTS, TAGS } from '../../http/openapi/documents.ts';
import type { Json } from './document-routes.ts';
import { leanDocument } from './lean-document.ts';

/** One of something for each document that programs load. */
export type ByDocument<Of> = Record<DocumentName, Of>;

export function mapDocuments<From, To>(documents: ByDocument<From>, to: (from: From) => To): ByDocument<To> {
  return byDocument((name) => to(documents[name]));
}

function byDocument<Of>(make: (name: DocumentName) => Of): ByDocument<Of> {
  // every name is in the list, which the keys of the type were made from
  return Object.fromEntries(DOCUMENT_NAMES.map((name) => [name, make(name)])) as ByDocument<Of>;
}

/**
 * The documents for programs: each has the operations of its tags, and of the shared parts what it refers to. A part has
 * one name and says one thing in all of them.
 *
 * @param whole what `apiDocument` made; it is changed
 */
export function leanDocuments(whole: Json): ByDocument<Json> {
  const lean = leanDocument(whole);
  return byDocument((name) => documentPart(lean, name));
}

function documentPart(lean: Json, name: DocumentName): Json {
  const tags = new Set(TAGS.filter((tag) => tag.document === name).map((tag) => tag.name));
  const { webhooks, ...document } = lean;
  const paths = Object.entries(lean['paths'] as Record<string, Json>).flatMap(([path, item]) => {
    const own = Object.entries(item).filter(([, operation]) =>
      (operation as Operation).tags.every((tag) => tags.has(tag)),
    );
    return own.length === 0 ? [] : [[path, Object.fromEntries(own)] as const];
  });
  return withoutUnused({
    ...document,
    info: { ...(lean['info'] as Json), title: DOCUMENTS[name].title },
    tags: (lean['tags'] as { name: string }[]).filter((tag) => tags.has(tag.name)),
    paths: Object.fromEntries(paths),
    ...(tags.has('Webhooks') ? { webhooks } : {}),
  });
}

interface Operation {
  tags: string[];
}

const REFERENCE = /^#\/components\/([^/]+)\/([^/]+)$/;

/** The document with those parts only that something in it refers to; what says who may call stays. */
export function withoutUnused(document: Json): Json {
  const components = (document['components'] ?? {}) as Record<string, Json>;
  const used = reachable([document['paths'], document['webhooks']], components);
  const kept = Object.entries(components).map(([kind, parts]) => {
    if (kind === 'securitySchemes') return [kind, parts] as const;
    return [kind, Object.fromEntries(Object.entries(parts).filter(([name]) => used.has(`${kind}/${name}`)))] as const;
  });
  return { ...document, components: Object.fromEntries(kept) };
}

function reachable(from: unknown, components: Record<string, Json>): Set<string> {
  const used = new Set<string>();
  const waiting: unknown[] = [from];
  while (waiting.length > 0) {
    const node = waiting.pop();
    if (typeof node !== 'object' || node === null) continue;
    waiting.push(...Object.values(node));
    const [, kind = '', name = ''] = REFERENCE.exec(String((node as Json)['$ref'])) ?? [];
    const part = `${kind}/${name}`;
    if (kind === '' || used.has(part)) continue;
    used.add(part);
    waiting.push(components[kind]?.[name]);
  }
  return used;
}
