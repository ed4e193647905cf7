import fc from 'fast-check';
import { HOSTILE_TEXTS, NUMBER_TEXTS, POLLUTION } from './hostile-values.ts';
import { nameOf, RAW_MEMBERS, raw } from './json-text.ts';

type Path = (string | number)[];

/** What is done to a body, and with what; `where` chooses the place, whatever the body turns out to be. */
export interface Mutation {
  kind: string;
  where: number;
  what: unknown;
}

/** One change of a JSON body that somebody careless or hostile would make. */
export function arbMutation(serverKeys: readonly string[]): fc.Arbitrary<Mutation> {
  const of = (kind: string, what: fc.Arbitrary<unknown>) =>
    fc.record({ kind: fc.constant(kind), where: fc.nat(), what });
  const other = fc.constantFrom<unknown>(null, true, false, 0, -1, 1.5, '', 'x', [], {}, [[]], { value: 1 });
  const added = fc.constantFrom('noSuchKey', 'admit', 'no/such~key', '', ' ', 'Name', 'ключ');
  return fc.oneof(
    of('drop', fc.constant(undefined)),
    of('replace', other),
    { weight: 3, arbitrary: of('replace', fc.constantFrom(...HOSTILE_TEXTS)) },
    { weight: 3, arbitrary: of('replace', fc.constantFrom(...NUMBER_TEXTS).map(raw)) },
    of(
      'replace',
      fc.constantFrom(50, 2000).map((levels) => raw('['.repeat(levels) + ']'.repeat(levels))),
    ),
    of(
      'replace',
      fc.constantFrom(60, 2000).map((levels) => raw('{"a":'.repeat(levels) + '1' + '}'.repeat(levels))),
    ),
    { weight: 3, arbitrary: of('add', added) },
    { weight: 3, arbitrary: of('add', fc.constantFrom(...serverKeys)) },
    of('add raw', fc.constantFrom(...POLLUTION).map(raw)),
    of('repeat', fc.constantFrom(2, 300)),
    of('twice', fc.constant(undefined)),
    of('whole', fc.constantFrom<unknown>([], null, 'text', 0, true, {}, [{}])),
  );
}

/** Carries a mutation out on a copy. */
export function mutate(body: unknown, { kind, where, what }: Mutation): unknown {
  if (kind === 'whole') return what;
  const places = placesIn(body);
  const objects = [[] as Path, ...places].filter((path) => isPlainObject(at(body, path)));
  if (kind.startsWith('add') || kind === 'twice')
    return addTo(body, objects[Math.max(0, (where % (2 * objects.length)) - objects.length)], kind, what);
  const place = places[where % Math.max(1, places.length)];
  if (place === undefined) return body;
  return edit(body, place, (holder, key) => {
    if (kind === 'drop' && !Array.isArray(holder)) delete holder[key];
    else if (kind === 'repeat') holder[key as never] = Array(Number(what)).fill(holder[key as never]) as never;
    else holder[key as never] = what as never;
  });
}

function addTo(body: unknown, path: Path | undefined, kind: string, what: unknown): unknown {
  if (path === undefined) return [body];
  const object = at(body, path) as Record<string, unknown>;
  const [first] = Object.keys(object);
  const added = kind === 'twice' ? raw(`${JSON.stringify(first ?? 'a')}:1,${JSON.stringify(first ?? 'a')}:{}`) : what;
  const more =
    kind === 'add' ? { ...object, [String(what)]: valueFor(String(what)) } : { ...object, [RAW_MEMBERS]: added };
  if (path.length === 0) return more;
  return edit(body, path, (holder, key) => {
    holder[key as never] = more as never;
  });
}

/** Something that the server would take for this name, if it took it. */
function valueFor(key: string): unknown {
  if (key.endsWith('Id')) return '019ab8f0-0000-7000-8000-00000000beef';
  if (key.endsWith('At')) return '2026-06-10T08:00:00.000Z';
  if (/^(admit|revoked|isComplete|ready)$/.test(key)) return true;
  return /^(version|rev|order|seq)$/.test(key) ? 1 : 'accept';
}

function isPlainObject(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value) && nameOf(value) === undefined;
}

function at(value: unknown, path: Path): unknown {
  return path.reduce<unknown>((part, key) => (part as Record<string | number, unknown>)[key], value);
}

/** Every member and item of a value, at most a few hundred. */
function placesIn(value: unknown, path: Path = [], found: Path[] = []): Path[] {
  if (typeof value !== 'object' || value === null || nameOf(value) !== undefined || found.length > 300) return found;
  for (const [key, part] of Object.entries(value)) {
    const place = [...path, Array.isArray(value) ? Number(key) : key];
    found.push(place);
    placesIn(part, place, found);
  }
  return found;
}

function edit(
  value: unknown,
  path: Path,
  change: (holder: Record<string, unknown> | unknown[], key: string | number) => void,
): unknown {
  const [key, ...rest] = path;
  if (key === undefined) return value;
  const copy = Array.isArray(value) ? [...value] : { ...(value as Record<string, unknown>) };
  if (rest.length === 0) change(copy, key);
  else
    (copy as Record<string | number, unknown>)[key] = edit(
      (copy as Record<string | number, unknown>)[key],
      rest,
      change,
    );
  return copy;
}
