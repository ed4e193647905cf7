import type { PositionScheme } from '../../catalogue/item.ts';
import { type Comparison, type Node, parseCel } from '../cel/parse.ts';
import { amountText, expressionOf, fieldText, valueText } from './explain-binder.ts';
import { findFact } from '../model/facts.ts';
import type { JudgeInput } from '../judge/run.ts';
import type { Binder } from '../kinds/answer.ts';
import type { Layer, Origins } from '../overlay/overlay.ts';
import { noUses, type RuleRef, ruleScope } from '../model/rule-scope.ts';
import type { ParameterValue, Rule, RuleSet } from '../model/rule-set.ts';

const COMPARISONS: Readonly<Record<Comparison, string>> = {
  '==': 'is',
  '!=': 'is not',
  '<': 'is less than',
  '<=': 'is at most',
  '>': 'is more than',
  '>=': 'is at least',
};
const DATE_COMPARISONS = { '<': 'is before', '<=': 'is not after', '>': 'is after', '>=': 'is not before' } as const;
const SIGNS = { '+': '+', '-': '−', '*': '×', '/': '÷', '%': 'modulo' } as const;
const DAYS = { startsOn: 'the first event day', endsOn: 'the last event day' } as const;
const VENUE = {
  topSpeedKmh: 'the top speed at the venue',
  soundLimitDb: 'the sound limit of the venue',
  soundDistanceM: 'the distance of the sound limit',
  lapLengthM: 'the length of a lap',
  designAirTemperatureC: 'the air temperature to plan for',
} as const;

interface Wording {
  ruleSet: RuleSet;
  each: PositionScheme | undefined;
  binder: Binder;
}

/** The words for a name and how many parts of the path they stand for; `undefined` = not a name (a loop variable). */
function nameText(wording: Wording, path: readonly string[]): string | undefined {
  const found = ruleScope(wording.ruleSet, wording.each, noUses()).find(path);
  if ('fault' in found) return undefined;
  const { ref } = found.variable;
  const rest = path.slice(found.taken);
  if (ref.from !== 'answer') return [refText(wording, ref), ...rest.map((part) => `at ${part}`)].join(' ');
  return rest.reduce((text, part) => {
    const field = ref.item.answer.kind === 'fields' ? ref.item.answer.fields[part] : undefined;
    return field === undefined ? `${text} at ${part}` : `${text}, ${field.label}`;
  }, JSON.stringify(ref.item.label));
}

function refText(wording: Wording, ref: Exclude<RuleRef, { from: 'answer' }>): string {
  switch (ref.from) {
    case 'parameter':
      return parameterText(wording, ref.name);
    case 'vehicle':
      return `the car's ${fieldText(ref.field.path)}`;
    case 'event':
      return `${DAYS[ref.name]} (${wording.binder.event[ref.name]})`;
    case 'venue':
      return VENUE[ref.name];
    case 'fact':
      return findFact(ref.name)?.meaning ?? `the derived fact ${fieldText([ref.name])}`;
    case 'position':
      return 'the position';
  }
}

function parameterText({ binder, ruleSet }: Wording, name: string): string {
  const bound = binder.parameter(name);
  if (bound === undefined) return `parameter ${name}`;
  if (typeof bound.value !== 'boolean') return valueText(bound.value, bound.unit === '1' ? undefined : bound.unit);
  return `"${ruleSet.parameters[name]?.meaning ?? name}"`;
}

/** A part that stands for a yes/no, as a statement. */
function statement(wording: Wording, node: Node): string {
  switch (node.op) {
    case 'and':
    case 'or':
      return `${joined(wording, node.left, node.op)} ${node.op} ${joined(wording, node.right, node.op)}`;
    case 'not':
      return isName(node.operand)
        ? `${value(wording, node.operand)} is no`
        : `not so: (${statement(wording, node.operand)})`;
    case 'compare':
      return comparisonText(node.operator, value(wording, node.left), value(wording, node.right));
    case 'has':
      return `${value(wording, node.operand)} is given`;
    case 'in':
      return isMap(wording, node.list)
        ? `${value(wording, node.list)} is given at ${value(wording, node.item)}`
        : `${value(wording, node.item)} is one of: ${value(wording, node.list)}`;
    case 'conditional': {
      const [test, yes, no] = [node.test, node.yes, node.no].map((part) => statement(wording, part));
      return `where ${test}: ${yes}; else: ${no}`;
    }
    case 'macro':
      return macroText(wording, node);
    default:
      return isName(node) ? `${value(wording, node)} is yes` : value(wording, node);
  }
}

const isDate = (text: string): boolean => /\d{4}-\d{2}-\d{2}\)?$/u.test(text);

function comparisonText(operator: Comparison, left: string, right: string): string {
  const words = isDate(left) || isDate(right) ? { ...COMPARISONS, ...DATE_COMPARISONS } : COMPARISONS;
  return `${left} ${words[operator]} ${right}`;
}

/** Whether a name stands for one value per position: asking for a position in it is asking whether it is answered. */
function isMap({ ruleSet, each }: Wording, node: Node): boolean {
  const found = node.op === 'name' ? ruleScope(ruleSet, each, noUses()).find(node.path) : undefined;
  return found !== undefined && 'variable' in found && found.variable.type.kind === 'map';
}

const isName = (node: Node): boolean => node.op === 'name' || node.op === 'select' || node.op === 'index';

function joined(wording: Wording, node: Node, by: 'and' | 'or'): string {
  const mixed = (node.op === 'and' || node.op === 'or') && node.op !== by;
  return mixed || node.op === 'conditional' || node.op === 'macro'
    ? `(${statement(wording, node)})`
    : statement(wording, node);
}

const QUANTIFIERS = { all: 'every', exists: 'at least one', exists_one: 'exactly one' } as const;

function macroText(wording: Wording, node: Node & { op: 'macro' }): string {
  const range = value(wording, node.range);
  return `for ${QUANTIFIERS[node.macro]} position ${node.variable} of ${range}: ${statement(wording, node.body)}`;
}

/** A part that stands for a number, text, date or list. */
function value(wording: Wording, node: Node): string {
  switch (node.op) {
    case 'int':
    case 'double':
    case 'bool':
      return valueText(node.value);
    case 'string':
      return node.value;
    case 'list':
      return node.elements.map((element) => value(wording, element)).join(', ');
    case 'name':
      return nameText(wording, node.path) ?? node.path.join('.');
    case 'select':
      return `${value(wording, node.operand)}, ${node.field}`;
    case 'index':
      return `${value(wording, node.operand)} at ${value(wording, node.key)}`;
    case 'negate':
      return `−${operand(wording, node.operand)}`;
    case 'arithmetic':
      return `${operand(wording, node.left)} ${SIGNS[node.operator]} ${operand(wording, node.right)}`;
    case 'call':
      return callText(wording, node);
    case 'conditional':
      return `(${value(wording, node.yes)} where ${statement(wording, node.test)}, else ${value(wording, node.no)})`;
    default:
      return `(${statement(wording, node)})`;
  }
}

function operand(wording: Wording, node: Node): string {
  return node.op === 'arithmetic' ? `(${value(wording, node)})` : value(wording, node);
}

type Call = Node & { op: 'call' };

const CALLS: Readonly<Record<string, (args: readonly string[]) => string>> = {
  date: ([day = '']) => day,
  double: ([number = '']) => number,
  abs: ([number = '']) => `the size of (${number})`,
  min: (args) => `the smallest of (${args.join(', ')})`,
  max: (args) => `the largest of (${args.join(', ')})`,
  spread: ([items = '']) => `the difference between the largest and the smallest of ${items}`,
  size: ([of = '']) => `the length of ${of}`,
  days: ([from = '', to = '']) => `the days from ${from} to ${to}`,
  months: ([from = '', to = '']) => `the whole months from ${from} to ${to}`,
  startsWith: ([text = '', prefix = '']) => `${text} starts with ${prefix}`,
};

function callText(wording: Wording, node: Call): string {
  const [number, unit] = node.args;
  if (node.name === 'q' && (number?.op === 'int' || number?.op === 'double') && unit?.op === 'string') {
    return amountText(number.value, unit.value);
  }
  const args = [...(node.target === undefined ? [] : [node.target]), ...node.args].map((arg) => value(wording, arg));
  return CALLS[node.name]?.(args) ?? `${node.name}(${args.join(', ')})`;
}

/**
 * A yes/no expression of a rule as a statement in plain words, with the values that parameters have here:
 * `"Wet boiling point" is less than "Dry boiling point"`. Catalogue labels stand in quotes.
 *
 * @returns the expression itself when it cannot be read
 */
export function expressionText(source: string, binder: Binder): string {
  const parsed = parseCel(source);
  if (!parsed.ok) return source;
  return statement({ ruleSet: binder.ruleSet, each: binder.each, binder }, parsed.node);
}

/** A named limit as it held in a judgement, and where its value came from. */
export interface ExplainedParameter {
  name: string;
  /** absent: it has no usable value */
  value?: ParameterValue;
  unit?: string;
  meaning: string;
  source?: string;
  from: Layer;
  /** what the rule set says, where a venue or run group changed it */
  was?: { value: ParameterValue; unit?: string };
}

/** Names of the parameters that a rule's test and condition read, each once. */
export function parameterNames(rule: Rule, binder: Binder): string[] {
  const names = new Set<string>();
  for (const source of [rule.when, rule.test.kind === 'expression' ? rule.test.expr : undefined]) {
    const expression = source === undefined ? undefined : expressionOf(binder, source);
    for (const { ref } of expression?.variables ?? []) if (ref.from === 'parameter') names.add(ref.name);
  }
  for (const part of Object.values(rule.test)) {
    const name = namedIn(part);
    if (name !== undefined) names.add(name);
  }
  return [...names];
}

function namedIn(part: unknown): string | undefined {
  const isNamed = typeof part === 'object' && part !== null && 'parameter' in part;
  return isNamed && typeof part.parameter === 'string' ? part.parameter : undefined;
}

/** The parameters of a rule with their values, meanings and origins. */
export function explainParameters(
  names: readonly string[],
  binder: Binder,
  input: JudgeInput,
  origins: Origins,
): ExplainedParameter[] {
  return names.flatMap((name) => {
    const { parameters } = binder.ruleSet;
    const declared = Object.hasOwn(parameters, name) ? parameters[name] : undefined;
    if (declared === undefined) return [];
    const bound = binder.parameter(name);
    const unit = bound === undefined || bound.unit === '1' ? undefined : bound.unit;
    return [
      {
        name,
        ...(bound !== undefined && { value: bound.value }),
        ...(unit !== undefined && { unit }),
        meaning: declared.meaning,
        ...(declared.source !== undefined && { source: declared.source }),
        ...originOf(name, declared, input, origins),
      },
    ];
  });
}

function originOf(
  name: string,
  declared: { value: ParameterValue; unit?: string | undefined },
  input: JudgeInput,
  origins: Origins,
): Pick<ExplainedParameter, 'from' | 'was'> {
  const changed = Object.hasOwn(origins.parameters, name) ? origins.parameters[name] : undefined;
  if (changed !== undefined) return { from: changed.from, was: changed.was };
  // judged by a version with a run group's parameters over it, as before overlays
  if (!Object.hasOwn(input.parameters, name)) return { from: 'rule-set' };
  return {
    from: 'run-group',
    was: { value: declared.value, ...(declared.unit !== undefined && { unit: declared.unit }) },
  };
}
