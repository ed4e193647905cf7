import type { ApiModel, Operation } from './api-model.ts';
import { callerFor, focusOf } from './choose-caller.ts';
import { settle, toJsonText } from './json-text.ts';
import { mutate } from './mutations.ts';
import type { Picture } from './pictures.ts';
import type { Pool, Seen } from './pool.ts';
import type { BodyRecipe, Recipe, Tamper } from './recipe.ts';
import { tamperWith } from './tamper.ts';
import type { Caller } from './world.ts';

/** A request as it is sent, and what is known about it beforehand. */
export interface Sent {
  operation: Operation;
  caller: Caller;
  method: string;
  url: string;
  headers: Record<string, string | string[]>;
  payload: string | Buffer | undefined;
  path: Seen;
  tamper: Tamper;
  /** every part of the path has the form that it should have */
  addressFits: boolean;
  /** by the schema of the document; undefined where that does not say it all */
  bodyFits: boolean | undefined;
  /** a query key that is not documented */
  strangeQuery: boolean;
}

export interface World {
  api: ApiModel;
  pool: Pool;
  callers: readonly Caller[];
  pictures: readonly Picture[];
  /** the last Idempotency-Key of each address */
  keys: Map<string, string>;
  nextKey(): string;
  /** a car or sticker number that was not used yet */
  nextNumber(): string;
}

/** Names whose values are refused when they come twice. */
const ONCE = new Set(['carNumber', 'stickerNumber']);
const NOBODYS = '019ab8f0-0000-7000-8000-00000000dead';

export function buildRequest(recipe: Recipe, world: World): Sent {
  const { operation } = recipe;
  const focus = focusOf(recipe, world);
  const caller = callerFor(recipe, world, focus);
  const path = pathValues(recipe, world, focus);
  const address = operation.path.replaceAll(/\{(\w+)\}/g, (_whole, name: string) => String(path[name]));
  const query = queryText(recipe, world, focus);
  const sent: Sent = {
    operation,
    caller,
    method: operation.method,
    url: query === '' ? address : `${address}?${query}`,
    headers: {
      ...(caller.token === undefined ? {} : { authorization: `Bearer ${caller.token}` }),
      ...conditions(recipe, world, address),
    },
    payload: undefined,
    path,
    tamper: recipe.tamper,
    addressFits: recipe.segment === undefined || operation.pathNames.length === 0,
    bodyFits: undefined,
    strangeQuery: Object.keys(recipe.query).some((name) => operation.query.every((known) => known.name !== name)),
  };
  if (recipe.body !== undefined) addBody(sent, recipe.body, world, focus);
  tamperWith(sent, recipe, world);
  return sent;
}

function pathValues({ operation, pick, segment, ids }: Recipe, { pool }: World, focus: Seen): Seen {
  const values = operation.pathNames.map((name, i) => {
    // With several ids, one of them is unknown and the others are not.
    if (ids === 'unknown' && name.endsWith('Id') && i === pick % operation.pathNames.length)
      return [name, NOBODYS] as const;
    const known = ids === 'any' ? pool.choose(name, pick + i, {}) : (focus[name] ?? pool.choose(name, pick, {}));
    return [name, known ?? NOBODYS] as const;
  });
  const hostile = operation.pathNames[pick % Math.max(1, operation.pathNames.length)];
  return {
    ...Object.fromEntries(values),
    ...(segment === undefined || hostile === undefined ? {} : { [hostile]: segment }),
  };
}

function queryText({ query, pick }: Recipe, world: World, focus: Seen): string {
  const settled = settle(query, (name) => world.pool.choose(name === 'cursor' ? 'next' : name, pick, focus)) as Record<
    string,
    unknown
  >;
  return Object.entries(settled)
    .map(([name, value]) => `${encodeURIComponent(name)}=${encodeSafely(String(value))}`)
    .join('&');
}

/** Half a surrogate pair cannot be encoded; it goes as the bytes that it would be. */
function encodeSafely(text: string): string {
  return isWellFormed(text) ? encodeURIComponent(text) : '%ED%A0%80';
}

function isWellFormed(text: string): boolean {
  return !/\p{Surrogate}/u.test(text);
}

function conditions({ ifMatch, key }: Recipe, world: World, address: string): Record<string, string> {
  const headers: Record<string, string> = {};
  if (ifMatch !== undefined)
    headers['if-match'] = ifMatch === 'current' ? (world.pool.etagFor(address) ?? '"1"') : ifMatch;
  if (key === undefined) return headers;
  const text = key === 'again' ? world.keys.get(address) : key === 'fresh' ? world.nextKey() : key;
  if (text === undefined) return headers;
  world.keys.set(address, text);
  return { ...headers, 'idempotency-key': text };
}

function addBody(sent: Sent, body: BodyRecipe, world: World, focus: Seen): void {
  sent.headers['content-type'] = body.mediaType;
  if (body.mediaType.startsWith('image/') || body.mediaType === 'application/octet-stream') {
    sent.payload = pictureFor(body, world).bytes;
    return;
  }
  if (body.mediaType === 'multipart/form-data') {
    sent.headers['content-type'] = 'multipart/form-data; boundary=cut';
    sent.payload = multipart(pictureFor(body, world));
    return;
  }
  if (body.text !== undefined) {
    sent.payload = body.text;
    return;
  }
  const choose = (name: string, pick: number) =>
    ONCE.has(name) && (pick + body.pick) % 3 > 0
      ? world.nextNumber()
      : world.pool.choose(name, pick + body.pick, focus);
  const value = settle(body.value, choose);
  const text = toJsonText(body.mutations.reduce(mutate, value));
  sent.payload = text;
  if (body.mediaType === 'application/json') sent.bodyFits = fits(sent.operation, body.mediaType, text);
}

/** The picture of the named type mostly, else another one. */
function pictureFor({ mediaType, pick }: BodyRecipe, { pictures }: World): Picture {
  const right = pictures.find(({ name }) => name === mediaType.split('/')[1]);
  const some = right !== undefined && pick % 2 === 0 ? right : pictures[pick % pictures.length];
  return some ?? { name: 'nothing', bytes: Buffer.alloc(0) };
}

function multipart({ bytes }: Picture): Buffer {
  const head =
    '--cut\r\ncontent-disposition: form-data; name="file"; filename="../../a.jpg"\r\ncontent-type: image/jpeg\r\n\r\n';
  return Buffer.concat([Buffer.from(head), bytes, Buffer.from('\r\n--cut--\r\n')]);
}

function fits(operation: Operation, mediaType: string, text: string): boolean {
  try {
    return operation.bodies.get(mediaType)?.validate(JSON.parse(text)) ?? false;
  } catch {
    // Not JSON, so it does not fit.
    return false;
  }
}
