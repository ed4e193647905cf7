import type { PositionScheme } from '../../catalogue/item.ts';
import type { FindingHead, Judge } from '../judge/build-finding.ts';
import type { BoundParameter } from '../model/parameter-values.ts';
import type { RuleExpression } from '../model/rule-expression.ts';
import type { RuleFault, RuleFaultCode } from '../model/rule-fault.ts';
import type { EventDays, ParameterValue, Rule, RuleSet } from '../model/rule-set.ts';
import type { Uses } from '../model/rule-scope.ts';
import type { Slots } from '../judge/run.ts';
import type { Test } from '../model/test-schema.ts';

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
