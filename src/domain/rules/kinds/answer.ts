import type { Item, PositionScheme, SimpleAnswerType } from '../../catalogue/item.ts';
import type { FindingHead, Judge } from '../judge/build-finding.ts';
import type { BoundParameter } from '../model/parameter-values.ts';
import type { RuleExpression, Uses } from '../model/rule-scope.ts';
import type { RuleFault, RuleFaultCode } from '../model/rule-fault.ts';
import type { EventDays, ParameterValue, Rule, RuleSet } from '../model/rule-set.ts';
import type { AnswerPlace, Slots } from '../judge/run.ts';
import type { Test } from '../model/test-schema.ts';
import { findItem } from '../../catalogue/catalogue.ts';
import { lowestAround } from '../../declaration/basis.ts';
import { cellKey } from '../../declaration/declaration.ts';
import { enclosing, relate } from '../model/rule-each.ts';

/** What the static check of one rule's test works with; paths are below the test, `/item` for example. */
export interface KindChecker {
  ruleSet: RuleSet;
  rule: Rule;
  /** the scheme the rule runs over, once it is settled; `undefined` = once per car */
  each: PositionScheme | undefined;
  uses: Uses;
  fault(path: string, code: RuleFaultCode, detail: string, at?: RuleFault['at']): void;
}

/** What a test is made ready with: one position, one kind of car, one run group's parameters, one event. */
export interface Binder {
  ruleSet: RuleSet;
  rule: Rule;
  head: FindingHead;
  each: PositionScheme | undefined;
  position: string | undefined;
  event: EventDays;
  /** of the program under way: what is bound to judge with reads its answers there */
  slots?: Slots;
  parameter(name: string): BoundParameter | undefined;
  /** its value in the unit the rule set declares, so that an override in another unit changes nothing else */
  parameterInOwnUnit(name: string): ParameterValue | undefined;
  /** compiled once per rule set, whatever the position, car and parameters */
  expression(source: string): RuleExpression;
  /** positions of an item on this kind of car */
  positionsOf(itemKey: string): readonly string[];
}

/** A kind of test: its static check, and how it is made ready to judge. */
export interface Kind<T extends Test = Test> {
  check(test: T, checker: KindChecker): void;
  bind(test: T, binder: Binder): Judge;
}

export interface Asked {
  item: string;
  field?: string | undefined;
}

export type AnswerOf<K extends SimpleAnswerType['kind']> = Extract<SimpleAnswerType, { kind: K }>;

const quoted = (names: readonly string[]): string => names.map((name) => JSON.stringify(name)).join(', ');

/** The item a test names; notes a fault when there is none or the rule does not list it. */
export function checkItem(test: Asked, checker: KindChecker): Item | undefined {
  const item = findItem(test.item);
  if (item === undefined) {
    checker.fault('/item', 'unknown-item', `there is no item ${JSON.stringify(test.item)} in the catalogue`);
    return undefined;
  }
  checker.uses.items.add(item.key);
  return item;
}

/** The type of an item's answer, or of its part; `undefined` when there is no such part. */
export function typeOfAnswer(item: Item, field: string | undefined): SimpleAnswerType | undefined {
  const { answer } = item;
  if (answer.kind !== 'fields') return field === undefined ? answer : undefined;
  return field !== undefined && Object.hasOwn(answer.fields, field) ? answer.fields[field]?.type : undefined;
}

/** The type of the answer that a test judges, if it is one of the kinds wanted; else a fault is noted. */
export function checkAnswer<K extends SimpleAnswerType['kind']>(
  test: Asked,
  checker: KindChecker,
  wanted: readonly K[],
): AnswerOf<K> | undefined {
  const item = checkItem(test, checker);
  if (item === undefined) return undefined;
  const type = typeOfAnswer(item, test.field);
  if (type === undefined) {
    const parts =
      item.answer.kind === 'fields' ? `its parts are ${quoted(Object.keys(item.answer.fields))}` : 'it has no parts';
    const given = test.field === undefined ? 'names no part' : `has no part ${JSON.stringify(test.field)}`;
    checker.fault('/field', 'unknown-field', `${JSON.stringify(item.key)} ${given}: ${parts}`);
    return undefined;
  }
  if (wanted.some((kind) => kind === type.kind)) return type as AnswerOf<K>; // its kind is among K, as just tested
  checker.fault(
    '/item',
    'type-clash',
    `${JSON.stringify(item.key)} is answered by ${type.kind}, this test needs ${wanted.join(' or ')}`,
  );
  return undefined;
}

/** Names an answer for people: `"Friction material thickness" at FL.in`. */
export function nameAnswer(item: Item, position?: string, field?: string): string {
  const part =
    field !== undefined && item.answer.kind === 'fields' ? `, ${item.answer.fields[field]?.label ?? field}` : '';
  return `"${item.label}"${part}${position === undefined ? '' : ` at ${position}`}`;
}

/** The same text as the engine keeps property names: looking it up in a map takes half the time of a composed text. */
const asName = (text: string): string => Object.keys({ [text]: 0 })[0] ?? text;

/** The slot of a cell; a new one where no other rule has asked for it before. */
function slotOf(cell: string, slots: Slots): number {
  const slot = slots.get(cell) ?? slots.size;
  slots.set(cell, slot);
  return slot;
}

/** Where the lowest value around a position stands. */
function lowestPlace(item: Item, position: string | undefined, slots: Slots | undefined): AnswerPlace | undefined {
  const around = position === undefined ? undefined : lowestAround(item, position);
  if (around === undefined || around === position) return undefined;
  const cell = asName(cellKey(item.key, around));
  const says = `No answer for ${nameAnswer(item, around)}`;
  return { k: 'answer', cell, slot: slots && slotOf(cell, slots), inspectorOnly: false, says, lowest: undefined };
}

/** Where the answer of an item is read at one of its own positions. */
export function answerPlace(
  item: Item,
  position?: string,
  field?: string,
  slots?: Slots,
): AnswerPlace & { item: Item } {
  const inspectorOnly = item.answeredBy === 'inspector';
  const name = nameAnswer(item, position, field);
  const cell = asName(cellKey(item.key, position, field));
  return {
    k: 'answer',
    cell,
    slot: slots && slotOf(cell, slots),
    inspectorOnly,
    says: inspectorOnly ? `Not measured at the line yet: ${name}` : `No answer for ${name}`,
    lowest: lowestPlace(item, position, slots),
    // written here and not added by a spread, which makes an object of its own shape each time: slow to read
    item,
  };
}

/** Where the answer is read at the position a rule runs at, which may be finer than the item's (`FL` of `front`). */
export function boundAnswer(test: Asked, binder: Binder): AnswerPlace & { item: Item } {
  const item = findItem(test.item);
  if (item === undefined) throw new Error(`no item ${test.item}`);
  const { positions } = item;
  if (positions === undefined) return answerPlace(item, undefined, test.field, binder.slots);
  if (binder.position === undefined || binder.each === undefined) throw new Error(`${item.key} needs a position`);
  const position =
    relate(positions, binder.each) === 'coarser' ? enclosing(binder.position, binder.each, positions) : binder.position;
  if (position === undefined) throw new Error(`${item.key} has no position ${binder.position}`);
  return answerPlace(item, position, test.field, binder.slots);
}
