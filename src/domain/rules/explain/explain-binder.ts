import { findItem, itemApplies, positionsFor } from '../../catalogue/catalogue.ts';
import type { Item, PositionScheme } from '../../catalogue/item.ts';
import { convert, formatQuantity, parseUnit } from '../../quantity.ts';
import { bindPlace, headOf } from '../judge/build-finding.ts';
import { type CompiledRule, type CompiledRuleSet, expressionKey } from '../compile/compile-rule-set.ts';
import { findFact } from '../model/facts.ts';
import type { Reading } from '../model/finding.ts';
import type { JudgeInput, Place, Run } from '../judge/run.ts';
import type { Binder } from '../kinds/answer.ts';
import { bindParameter, unitOfParameter } from '../model/parameter-values.ts';
import { isPlaceless, positionsOfRule } from '../model/rule-each.ts';
import type { RuleExpression, RuleRef } from '../model/rule-scope.ts';
import type { Rule } from '../model/rule-set.ts';
import type { Limit } from '../model/test-schema.ts';
import { findVehicleField } from '../model/vehicle-fields.ts';

/** A value of a judgement, with its unit where it is a number. */
type PlainValue = number | string | boolean | readonly unknown[];

/** `3.5 mm`, `1 day`, `2 months`; a unit we do not know is written as it stands. */
export function amountText(value: number, unit: string | undefined): string {
  if (unit === 'day' || unit === 'month' || unit === 'year')
    return `${value} ${unit}${Math.abs(value) === 1 ? '' : 's'}`;
  if (unit === undefined) return `${value}`;
  const known = parseUnit(unit);
  return known === undefined ? `${value} ${unit}` : formatQuantity(value, known);
}

/** A value as people read it: `3.5 mm`, `yes`, `5W-40, 5W-50`. */
export function valueText(value: PlainValue, unit?: string): string {
  if (typeof value === 'number') return amountText(value, unit);
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  return typeof value === 'string' ? value : value.map(String).join(', ') || 'nothing chosen';
}

/** A finding's measured value as people read it. */
export function readingText(reading: Reading): string {
  return valueText(reading.value, 'unit' in reading ? reading.unit : undefined);
}

/** An answer as it was sent, a bare number in the item's unit: `{value: 3, unit: "1/32in"}` is `3/32 in`. */
export function sentText(raw: unknown, itemUnit: string | undefined): string {
  if (typeof raw === 'object' && raw !== null && 'value' in raw && 'unit' in raw) {
    return typeof raw.value === 'number'
      ? amountText(raw.value, String(raw.unit))
      : `${String(raw.value)} ${String(raw.unit)}`;
  }
  if (typeof raw === 'number') return amountText(raw, itemUnit);
  if (typeof raw === 'boolean' || typeof raw === 'string') return valueText(raw);
  return Array.isArray(raw) ? valueText(raw) : JSON.stringify(raw);
}

/** `rotorMinimumThicknessMm` as `rotor minimum thickness`, `FL` and `front-upper-arm` as they are. */
export function fieldText(path: readonly string[]): string {
  return path
    .map((part) =>
      /^[a-z]+[A-Z]/u.test(part)
        ? part
            .replace(/(Mm|Kpa|Kg|Kmh|Nm|Deg|Db|G|V|M)$/u, '')
            .replaceAll(/[A-Z]/gu, (letter) => ` ${letter.toLowerCase()}`)
        : part,
    )
    .join(' ');
}

const LIST_SHOWN = 6;

/** A list within a text, cut after its sixth entry: `one of: a, b, c, d, e, f and 50 more`. */
export function shortList(text: string): string {
  const [head = '', rest] = text.split(': ', 2);
  const entries = rest?.split(', ') ?? [];
  if (entries.length <= LIST_SHOWN + 1) return text;
  return `${head}: ${entries.slice(0, LIST_SHOWN).join(', ')} and ${entries.length - LIST_SHOWN} more`;
}

/** A rule as it is bound to one car, to be told and not to be judged with. */
export interface BoundRule {
  rule: Rule;
  each: PositionScheme | undefined;
  /** where it runs on this car: `[undefined]` once for the car, `[]` nowhere */
  positions: readonly (string | undefined)[];
  binder(position: string | undefined): Binder;
}

/** A name that a rule reads, with the place where it is read. */
export interface BoundRead {
  ref: RuleRef;
  place: Place;
}

const askedAt = (item: Item, input: JudgeInput): readonly string[] | undefined =>
  itemApplies(item, input.vehicle) ? positionsFor(item, input.vehicle) : [];

/** Binds a rule to the car, event days and parameters of a judgement. */
export function bindRule(compiled: CompiledRuleSet, { rule, each }: CompiledRule, input: JudgeInput): BoundRule {
  const { ruleSet } = compiled;
  const parameter = (name: string) => bindParameter(ruleSet, input.parameters, name);
  const binder = (position: string | undefined): Binder => ({
    ruleSet,
    rule,
    head: headOf(rule, position),
    each,
    position,
    event: input.event,
    parameter,
    parameterInOwnUnit(name) {
      const bound = parameter(name);
      if (bound === undefined || typeof bound.value !== 'number') return bound?.value;
      const declared = ruleSet.parameters[name];
      const unit = declared && unitOfParameter(declared);
      return unit === undefined ? undefined : convert(bound.value, bound.unit, unit);
    },
    expression(source) {
      const expression = compiled.expressions.get(expressionKey(source, each));
      if (expression === undefined) throw new Error('this expression does not compile');
      return expression;
    },
    positionsOf(key) {
      const item = findItem(key);
      return item === undefined ? [] : (askedAt(item, input) ?? []);
    },
  });
  const positions = isPlaceless(rule) ? [undefined] : positionsOfRule(rule, each, (item) => askedAt(item, input));
  return { rule, each, positions, binder };
}

/** The state of a judgement at its start, to read inputs with; see `Run`. */
export function runOf(input: JudgeInput): Run {
  const { answers, measured, vehicle, venue, earlier = [], photos, stage } = input;
  return {
    answers,
    measured,
    sheet: undefined,
    measuredSheet: undefined,
    vehicle,
    venue,
    earlier,
    derived: new Map(),
    photos,
    doubts: undefined,
    stage,
    concessions: undefined,
    source: undefined,
    missing: undefined,
    touched: undefined,
    // an explanation reads values; what is asked is not told by it
    lowestIsEnough: false,
  };
}

const vehicleRef = (limit: Limit | undefined): RuleRef[] => {
  const field = limit !== undefined && 'vehicle' in limit ? findVehicleField(limit.vehicle) : undefined;
  return field === undefined ? [] : [{ from: 'vehicle', field }];
};

function limitsOf({ test }: Rule): (Limit | undefined)[] {
  if (test.kind === 'limit') return [test.atLeast, test.atMost];
  if (test.kind === 'range') return [test.from, test.to];
  return test.kind === 'spread' ? [test.atMost] : [];
}

function daysOf({ test }: Rule): RuleRef[] {
  if (test.kind === 'age') return [{ from: 'event', name: test.at === 'event-start' ? 'startsOn' : 'endsOn' }];
  return test.kind === 'valid-through' ? [{ from: 'event', name: 'endsOn' }] : [];
}

function typedRefs(rule: Rule): RuleRef[] {
  const { test } = rule;
  if (test.kind === 'expression' || test.kind === 'photo') return [];
  const item = findItem(test.item);
  const answer: RuleRef[] =
    item === undefined ? [] : [{ from: 'answer', item, ...(test.field !== undefined && { field: test.field }) }];
  return [...answer, ...limitsOf(rule).flatMap(vehicleRef), ...daysOf(rule)];
}

/** The expression as compiled; `undefined` where it does not compile, so that its rule had no answer. */
export function expressionOf(binder: Binder, source: string): RuleExpression | undefined {
  try {
    return binder.expression(source);
  } catch {
    // such a rule is judged `unanswerable`: there is nothing to read, and the finding says so
    return undefined;
  }
}

/** The answers that a derived fact is worked out from, part by part: they are what an entrant can look at. */
function answersBehind(ref: RuleRef): RuleRef[] {
  const items = ref.from === 'fact' ? (findFact(ref.name)?.items ?? []) : [];
  return items.flatMap((key): RuleRef[] => {
    const item = findItem(key);
    if (item === undefined) return [];
    if (item.answer.kind !== 'fields') return [{ from: 'answer', item }];
    return Object.keys(item.answer.fields).map((field) => ({ from: 'answer', item, field }));
  });
}

const refsOf = (expression: RuleExpression | undefined): RuleRef[] =>
  (expression?.variables ?? []).flatMap((variable) => [variable.ref, ...answersBehind(variable.ref)]);

/** What the test of a rule reads at one position, in the order in which it is written. */
export function readsOfTest(rule: Rule, binder: Binder): BoundRead[] {
  const { test } = rule;
  const refs = test.kind === 'expression' ? refsOf(expressionOf(binder, test.expr)) : typedRefs(rule);
  return refs.map((ref) => ({ ref, place: bindPlace(ref, binder) }));
}

/** What the condition of a rule reads at one position. */
export function readsOfCondition(when: string, binder: Binder): BoundRead[] {
  return refsOf(expressionOf(binder, when)).map((ref) => ({ ref, place: bindPlace(ref, binder) }));
}
