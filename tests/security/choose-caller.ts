import type { World } from './build-request.ts';
import { nameOf } from './json-text.ts';
import type { Seen } from './pool.ts';
import type { Recipe } from './recipe.ts';
import type { Caller } from './world.ts';

const NOBODY: Caller = { name: 'nobody' };

/** What the request is about: something that has an id for each place of path and body, for entrants mostly their own. */
export function focusOf({ operation, pick, callerFits, body }: Recipe, { pool, callers }: World): Seen {
  const names = [...new Set([...operation.pathNames, ...idsIn(body?.value)])];
  const entrants = callers.filter(({ role }) => role === 'entrant');
  const isTheirs =
    operation.roles?.includes('entrant') === true && operation.pathNames.some((name) => name !== 'eventId');
  const own = entrants[pick % Math.max(1, entrants.length)]?.entryId;
  const seen = isTheirs && callerFits && pick % 3 > 0 && own !== undefined ? pool.focus(names, pick, own) : {};
  if (Object.keys(seen).length > 0) return seen;
  const all = pool.focus(names, pick);
  return Object.keys(all).length > 0 ? all : pool.focus(operation.pathNames, pick);
}

/** Names of the ids that a body will have. */
function idsIn(value: unknown): string[] {
  if (typeof value !== 'object' || value === null) return [];
  const name = nameOf(value);
  if (name !== undefined) return name.endsWith('Id') ? [name] : [];
  return Object.values(value).flatMap(idsIn);
}

/** Mostly somebody who may do it; sometimes an entrant who asks about another's, sometimes anybody. */
export function callerFor(recipe: Recipe, { callers }: World, focus: Seen): Caller {
  const { operation, pick, callerFits, foreign } = recipe;
  const one = (some: readonly Caller[]) => some[pick % some.length];
  const isOwn = ({ entryId }: Caller) => entryId === focus['entryId'];
  const entrants =
    operation.roles?.includes('entrant') === true ? callers.filter(({ entryId }) => entryId !== undefined) : [];
  if (foreign && entrants.length > 0) return one(entrants.filter((entrant) => !isOwn(entrant))) ?? NOBODY;
  if (!callerFits) return one(callers) ?? NOBODY;
  const owner = entrants.find(isOwn);
  if (owner !== undefined && pick % 2 === 0) return owner;
  const fitting = callers.filter(
    (caller) => mayCall(operation.roles, caller) && (caller.entryId === undefined || isOwn(caller)),
  );
  return one(fitting) ?? one(callers) ?? NOBODY;
}

function mayCall(roles: Recipe['operation']['roles'], { role }: Caller): boolean {
  return role !== undefined && (roles === undefined || roles.includes(role));
}
