import { cutText, listFaults } from './cut.ts';

/** Largest body of a refusal in bytes, whatever was sent. */
export const MAX_PROBLEM_BYTES = 200_000;
const MAX_TEXT = 1000;

type Json = Readonly<Record<string, unknown>>;

/**
 * The members of a problem document as text that is never larger than it may be: of very many faults the first are
 * listed and `moreErrors` counts the others, long texts of the caller's own are cut, and of other lists that are still
 * too long the beginning is kept and `more` counts the rest.
 */
export function problemText(body: Json): string {
  const short = shorten(body);
  let text = JSON.stringify(short);
  let lists = Object.entries(short).filter((entry): entry is [string, unknown[]] => Array.isArray(entry[1]));
  while (Buffer.byteLength(text) > MAX_PROBLEM_BYTES && lists.some(([, list]) => list.length > 0)) {
    const longest = Math.max(...lists.map(([, list]) => list.length));
    lists = lists.map(([key, list]) => [key, list.length === longest ? list.slice(0, longest >> 1) : list]);
    text = JSON.stringify({ ...short, ...Object.fromEntries(lists), ...left(short, lists) });
  }
  return text;
}

function shorten({ errors, ...body }: Json): Json {
  const texts = Object.entries(body).map(([key, value]) => [
    key,
    typeof value === 'string' ? cutText(value, MAX_TEXT) : value,
  ]);
  const rest = Object.fromEntries(texts) as Json;
  if (!Array.isArray(errors)) return rest;
  const { listed, more } = listFaults(errors);
  const counted = more + (typeof body['moreErrors'] === 'number' ? body['moreErrors'] : 0);
  return { ...rest, errors: listed, ...(counted > 0 && { moreErrors: counted }) };
}

/** How many of each list were left out. Of faults the count stands where it always does. */
function left(body: Json, lists: readonly [string, unknown[]][]): Json {
  const counts = lists.flatMap(([key, list]) => {
    const all = body[key];
    const gone = Array.isArray(all) ? all.length - list.length : 0;
    return gone > 0 ? [[key, gone] as const] : [];
  });
  const others = counts.filter(([key]) => key !== 'errors');
  const errors = counts.find(([key]) => key === 'errors')?.[1] ?? 0;
  const counted = errors + (typeof body['moreErrors'] === 'number' ? body['moreErrors'] : 0);
  return {
    ...(others.length > 0 && { more: Object.fromEntries(others) }),
    ...(counted > 0 && { moreErrors: counted }),
  };
}
