import { type Item, POSITION_KEYS, type PositionScheme } from '../catalogue/item.ts';
import { findFact } from './facts.ts';
import { factPlace } from './facts-place.ts';
import { answerPlace } from './kinds/answer.ts';
import type { Binder } from './kinds/kind.ts';
import { enclosing, relate, subPositions } from './position-relations.ts';
import type { RuleRef } from './rule-scope.ts';
import type { Place } from './run.ts';
import type { VehicleField } from './vehicle-fields.ts';

/** The names and positions under which a rule sees a positioned thing; one position where it sees a single value. */
function seen(
  scheme: PositionScheme,
  binder: Binder,
): { single: string } | { names: readonly { name: string; position: string }[] } {
  const { each, position } = binder;
  if (each === undefined || position === undefined || relate(scheme, each) === 'unrelated') {
    return { names: POSITION_KEYS[scheme].map((one) => ({ name: one, position: one })) };
  }
  const single = enclosing(position, each, scheme);
  return single === undefined ? { names: subPositions(scheme, each, position) } : { single };
}

function mapPlace(names: readonly { name: string; position: string }[], place: (position: string) => Place): Place {
  const entries = new Map(names.map(({ name, position }) => [name, place(position)]));
  return { k: 'map', names: [...entries.keys()], entries };
}

function answer(item: Item, field: string | undefined, binder: Binder): Place {
  if (item.positions === undefined) return answerPlace(item, undefined, field, binder.slots);
  const view = seen(item.positions, binder);
  if ('single' in view) return answerPlace(item, view.single, field, binder.slots);
  const asked = binder.positionsOf(item.key);
  const names = view.names.filter(({ position }) => asked.includes(position));
  return mapPlace(names, (position) => answerPlace(item, position, field, binder.slots));
}

function vehicle(field: VehicleField, binder: Binder): Place {
  const place = (path: readonly string[]): Place => ({
    k: 'vehicle',
    path,
    says: `The vehicle record has no ${path.join('.')}`,
  });
  if (field.scheme === undefined) return place(field.path);
  const view = seen(field.scheme, binder);
  return 'single' in view
    ? place([...field.path, view.single])
    : mapPlace(view.names, (position) => place([...field.path, position]));
}

/** Where a name of an expression is read at the rule's position, on this kind of car, under these parameters. */
export function bindPlace(ref: RuleRef, binder: Binder): Place {
  switch (ref.from) {
    case 'answer':
      return answer(ref.item, ref.field, binder);
    case 'vehicle':
      return vehicle(ref.field, binder);
    case 'parameter':
      return parameter(ref.name, binder);
    case 'event':
      return { k: 'value', value: binder.event[ref.name], says: `The event has no ${ref.name}` };
    case 'venue':
      return { k: 'venue', name: ref.name, says: `The venue record has no ${ref.name}` };
    case 'fact':
      return fact(ref.name, binder);
    case 'position':
      return { k: 'value', value: binder.position, says: 'The rule has no position' };
  }
}

/** One value at the rule's position; a map where the rule sees several. */
function fact(name: string, binder: Binder): Place {
  const scheme = findFact(name)?.scheme;
  if (scheme === undefined) return factPlace(name, undefined, binder.event);
  const view = seen(scheme, binder);
  return 'single' in view
    ? factPlace(name, view.single, binder.event)
    : mapPlace(view.names, (position) => factPlace(name, position, binder.event));
}

/** A number is brought to the unit the expression was checked with: the rule set's own. */
function parameter(name: string, binder: Binder): Place {
  return { k: 'value', value: binder.parameterInOwnUnit(name), says: `Parameter "${name}" has no usable value` };
}
