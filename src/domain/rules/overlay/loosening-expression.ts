import { convert } from '../../quantity.ts';
import { parseCel } from '../cel/parse.ts';
import type { Bound, Looser } from './loosening-compare.ts';
import { bindParameter } from '../model/parameter-values.ts';
import { eachOf } from '../model/rule-each.ts';
import { type ComparedParts, compileRuleExpression } from '../model/rule-expression.ts';
import { noUses, type RuleRef } from '../model/rule-scope.ts';
import type { Rule, RuleSet } from '../model/rule-set.ts';

const nameOfParameter = (ref: RuleRef): string | undefined => (ref.from === 'parameter' ? ref.name : undefined);

/** Whether one side of the comparison is `params.name` and nothing else. */
function standsAlone(source: string, name: string): boolean {
  const parsed = parseCel(source);
  if (!parsed.ok || parsed.node.op !== 'compare') return false;
  return [parsed.node.left, parsed.node.right].some(
    (side) => side.op === 'name' && side.path.length === 2 && side.path[0] === 'params' && side.path[1] === name,
  );
}

/** The parameter that an answer is compared with, when it is all there is on its side and on no other. */
function findPlainLimit(source: string, { answer, limit }: ComparedParts): string | undefined {
  const [only, ...more] = limit.variables;
  const name = only && nameOfParameter(only.ref);
  if (name === undefined || more.length > 0) return undefined;
  const isOnBothSides = answer.variables.some(({ ref }) => nameOfParameter(ref) === name);
  return isOnBothSides || !standsAlone(source, name) ? undefined : name;
}

function directionOf(operator: ComparedParts['operator'], isCondition: boolean): Looser {
  if (operator === '==') return 'unclear';
  const isFloor = operator === '>' || operator === '>=';
  // a test gets easier to meet, a condition lets the rule apply to fewer cars
  return isFloor === isCondition ? 'higher' : 'lower';
}

function plainBound(place: string, parameter: string, compared: ComparedParts, ruleSet: RuleSet): Bound {
  const bound = bindParameter(ruleSet, {}, parameter);
  const { unit, decimals, operator } = compared;
  const value = typeof bound?.value === 'number' ? convert(bound.value, bound.unit, unit) : undefined;
  return { place, parameter, looser: directionOf(operator, place === '/when'), value, unit, decimals };
}

const UNCLEAR_DECIMALS = 9;

function unclearBound(place: string, parameter: string, ruleSet: RuleSet): Bound {
  const bound = bindParameter(ruleSet, {}, parameter);
  const shown = { value: bound?.value, unit: bound?.unit ?? '', decimals: UNCLEAR_DECIMALS };
  return { place, parameter, looser: 'unclear', ...shown };
}

/**
 * One bound per parameter that an expression reads. Which way it loosens is known where the whole expression compares
 * an answer with the parameter; everywhere else every change may loosen.
 *
 * @param place `/test/expr` or `/when`; a condition that holds for fewer cars loosens
 */
export function expressionBounds(place: '/test/expr' | '/when', source: string, rule: Rule, ruleSet: RuleSet): Bound[] {
  const uses = noUses();
  const compiled = compileRuleExpression(source, ruleSet, eachOf(rule), uses);
  if (!compiled.ok) return [{ place, looser: 'unclear', value: undefined, unit: '', decimals: 0 }];
  const { compared } = compiled.expression;
  const plain = compared && findPlainLimit(source, compared);
  return [...uses.parameters].map((name) =>
    compared !== undefined && name === plain
      ? plainBound(place, name, compared, ruleSet)
      : unclearBound(place, name, ruleSet),
  );
}
