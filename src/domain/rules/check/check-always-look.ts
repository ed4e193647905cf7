import { findItem } from '../../catalogue/catalogue.ts';
import type { RuleFault, RuleWarning } from '../model/rule-fault.ts';
import type { Uses } from '../model/rule-scope.ts';
import { ALWAYS_LOOK_PARAMETER, type RuleSet } from '../model/rule-set.ts';

function checkPoints({ alwaysLook = [] }: RuleSet): RuleFault[] {
  const ids = new Set<string>();
  return alwaysLook.flatMap(({ id, items }, at): RuleFault[] => {
    const pointer = `/alwaysLook/${at}`;
    const faults: RuleFault[] = items.flatMap((key, index): RuleFault[] => {
      const item = findItem(key);
      const place = `${pointer}/items/${index}`;
      if (item === undefined) {
        return [
          { pointer: place, code: 'unknown-item', detail: `there is no item ${JSON.stringify(key)} in the catalogue` },
        ];
      }
      const detail = `only the entrant answers ${JSON.stringify(key)}: the line has nothing to look at`;
      return item.answeredBy === 'entrant' ? [{ pointer: place, code: 'type-clash', detail }] : [];
    });
    if (ids.has(id)) {
      const detail = `another point has the id ${JSON.stringify(id)} already`;
      faults.push({ pointer: `${pointer}/id`, code: 'duplicate-id', detail });
    }
    ids.add(id);
    return faults;
  });
}

function checkList(ruleSet: RuleSet, ids: readonly string[]): RuleFault[] {
  const value = ruleSet.parameters[ALWAYS_LOOK_PARAMETER]?.value;
  const pointer = `/parameters/${ALWAYS_LOOK_PARAMETER}/value`;
  if (!Array.isArray(value)) return [{ pointer, code: 'type-clash', detail: 'a list of ids of alwaysLook is needed' }];
  return value
    .filter((id) => !ids.includes(id))
    .map((id) => {
      const detail = `${JSON.stringify(id)} is no id of alwaysLook; there are ${ids.join(', ')}`;
      return { pointer, code: 'unknown-option', detail };
    });
}

/** What is wrong with the points looked at on every car, and with the parameter that lists those of a group. */
export function checkAlwaysLook(ruleSet: RuleSet, uses: Uses): RuleFault[] {
  const faults = checkPoints(ruleSet);
  const { alwaysLook } = ruleSet;
  if (alwaysLook === undefined || !Object.hasOwn(ruleSet.parameters, ALWAYS_LOOK_PARAMETER)) return faults;
  const ids = alwaysLook.map(({ id }) => id);
  uses.parameters.add(ALWAYS_LOOK_PARAMETER);
  // so that what a venue or a group lists is checked, too
  uses.options.push({ parameter: ALWAYS_LOOK_PARAMETER, options: ids });
  return [...faults, ...checkList(ruleSet, ids)];
}

/** A rule set that names nothing lets a car be accepted on its declaration alone. */
export function warnOfNoLook({ alwaysLook = [], rules }: RuleSet): RuleWarning[] {
  // one without rules is only begun, or cannot be read
  if (alwaysLook.length > 0 || rules.length === 0) return [];
  const detail = 'no point is looked at on every car: a clean declaration is accepted without a look';
  return [{ pointer: '/alwaysLook', code: 'no-always-look', detail }];
}
