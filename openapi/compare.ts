type Json = Record<string, unknown>;

const METHODS = ['get', 'put', 'post', 'patch', 'delete', 'head', 'options'];
const SHOWN = 40;

/**
 * Says in a few lines how two documents differ: operations and schemas that came, went or changed, then the places.
 * Empty when they say the same.
 */
export function describeDifferences(committed: string, generated: string): string[] {
  if (committed === generated) return [];
  if (!committed.startsWith('{') || !generated.startsWith('{')) return ['the text differs'];
  const before = JSON.parse(committed) as Json;
  const after = JSON.parse(generated) as Json;
  const lines = [
    ...compareParts('operation', operationsOf(before), operationsOf(after)),
    ...compareParts('schema', schemasOf(before), schemasOf(after)),
  ];
  const places = changedPlaces(before, after, '');
  const more = places.length > SHOWN ? [`… and ${places.length - SHOWN} more places`] : [];
  const all = [...lines, ...places.slice(0, SHOWN), ...more];
  return all.length > 0 ? all : ['only the layout of the file differs'];
}

function compareParts(what: string, before: Json, after: Json): string[] {
  const names = [...new Set([...Object.keys(before), ...Object.keys(after)])].toSorted();
  return names.flatMap((name) => {
    if (!(name in before)) return [`+ ${what} ${name}`];
    if (!(name in after)) return [`- ${what} ${name}`];
    return JSON.stringify(before[name]) === JSON.stringify(after[name]) ? [] : [`~ ${what} ${name}`];
  });
}

function operationsOf(document: Json): Json {
  const operations: Json = {};
  for (const [path, item] of Object.entries((document['paths'] ?? {}) as Record<string, Json>)) {
    for (const method of METHODS) if (method in item) operations[`${method.toUpperCase()} ${path}`] = item[method];
  }
  return operations;
}

function schemasOf(document: Json): Json {
  return ((document['components'] as Json | undefined)?.['schemas'] ?? {}) as Json;
}

function changedPlaces(before: unknown, after: unknown, pointer: string): string[] {
  if (JSON.stringify(before) === JSON.stringify(after)) return [];
  if (!isContainer(before) || !isContainer(after)) return [`  ${pointer || '/'}`];
  const keys = [...new Set([...Object.keys(before), ...Object.keys(after)])];
  const places = keys.flatMap((key) => {
    const place = `${pointer}/${key.replaceAll('~', '~0').replaceAll('/', '~1')}`;
    return changedPlaces(before[key], after[key], place);
  });
  return places.length > 0 ? places : [`  ${pointer || '/'} (order of keys)`];
}

function isContainer(value: unknown): value is Json {
  return typeof value === 'object' && value !== null;
}
