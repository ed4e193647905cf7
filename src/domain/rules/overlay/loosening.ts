import { formatQuantity } from '../../quantity.ts';
import { EFFECTS } from '../model/finding.ts';
import { type Bound, boundsOf, compareBounds } from './loosening-bounds.ts';
import type { EffectChange } from './overlay.ts';
import { unitOfParameter } from '../model/parameter-values.ts';
import type { Rule, RuleSet } from '../model/rule-set.ts';

/** A change that loosens a rule marked floor, or may; `detail` names the rule and both values. */
export interface Loosening<K extends string> {
  /** the parameter, or the part of the change */
  what: K;
  detail: string;
}

const CALENDAR = ['day', 'month', 'year'];

/** A parameter's value as people read it: `4 mm`, `12 months`, `firm, soft`. */
function show(ruleSet: RuleSet, name: string): string {
  const parameter = ruleSet.parameters[name];
  if (parameter === undefined) return 'nothing';
  const { value } = parameter;
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (typeof value === 'string') return JSON.stringify(value);
  if (typeof value !== 'number') return value.length === 0 ? 'an empty list' : value.join(', ');
  const unit = unitOfParameter(parameter) ?? '1';
  return CALENDAR.includes(unit) ? `${value} ${unit}${value === 1 ? '' : 's'}` : formatQuantity(value, unit);
}

const floor = (rule: Rule): string =>
  `rule ${JSON.stringify(rule.id)} is a floor: it may be tightened here, not loosened`;

const WHY: Readonly<Record<string, string>> = {
  '/when': 'its condition reads the parameter',
  '/test/expr': 'its expression does more with the parameter than ask for more or less than it',
};

const VERBS: Partial<Record<Bound['looser'], string>> = { lower: 'lowering', higher: 'raising' };
const ACCEPTS: Partial<Record<Bound['looser'], string>> = { added: ': it accepts more', removed: ': it refuses less' };

function describeLoosening(rule: Rule, bound: Bound, name: string, values: string): string {
  const { looser, place } = bound;
  if (looser === 'unclear') {
    return `${floor(rule)}, and whether changing ${name} ${values} loosens it cannot be told: ${WHY[place] ?? place}`;
  }
  const how = place === '/when' ? ': it applies to fewer cars' : (ACCEPTS[looser] ?? '');
  return `${floor(rule)}, and ${VERBS[looser] ?? 'changing'} ${name} ${values} loosens it${how}`;
}

/**
 * How a change of parameters loosens a rule, or may: a limit that is easier to keep, a longer list of what is
 * accepted, a condition that holds for fewer cars. What cannot be told counts. Values in other units are compared
 * after conversion, as they are judged.
 *
 * @param before the rule set with the values so far
 * @param after the same rules with the values wanted
 * @returns one per parameter that loosens; none = everything changed tightens or leaves the rule as it is
 */
export function findLoosenedParameters(rule: Rule, before: RuleSet, after: RuleSet): Loosening<string>[] {
  const was = boundsOf(rule, before);
  const found = new Map<string, Loosening<string>>();
  for (const bound of boundsOf(rule, after)) {
    const { parameter: name, place } = bound;
    if (name === undefined || found.has(name)) continue;
    const earlier = was.find((one) => one.place === place && one.parameter === name);
    const difference = earlier === undefined ? 'unclear' : compareBounds(earlier, bound);
    if (difference === 'same' || difference === 'tighter') continue;
    const values = `from ${show(before, name)} to ${show(after, name)}`;
    found.set(name, { what: name, detail: describeLoosening(rule, bound, name, values) });
  }
  return [...found.values()];
}

/** How a change of effect loosens a rule: an effect that does less, or watch where it judges now. */
export function findLoosenedEffect(rule: Rule, change: EffectChange): Loosening<'effect' | 'watch'>[] {
  const found: Loosening<'effect' | 'watch'>[] = [];
  const { effect, watch } = change;
  if (effect !== undefined && EFFECTS.indexOf(effect) > EFFECTS.indexOf(rule.effect)) {
    found.push({ what: 'effect', detail: `${floor(rule)}, and ${effect} is less than ${rule.effect}` });
  }
  if (watch === true && rule.watch !== true) {
    found.push({ what: 'watch', detail: `${floor(rule)}, and on watch it would judge nobody` });
  }
  return found;
}
