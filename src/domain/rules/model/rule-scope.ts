import { findItem } from '../../catalogue/catalogue.ts';
import { type Item, POSITION_KEYS, type PositionScheme, type SimpleAnswerType } from '../../catalogue/item.ts';
import { type CelScope, type CelType, type CelVariable, type Checked, isNumeric } from '../cel/types.ts';
import { findFact } from './facts.ts';
import { kindOf, unitOfParameter } from './parameter-values.ts';
import { mapNames, relate } from './rule-each.ts';
import type { EventDays, Parameter, RuleSet, VenueName } from './rule-set.ts';
import { findVehicleField, type VehicleField } from './vehicle-fields.ts';
import type { Unit } from '../../quantity.ts';
import type { CelFault, Comparison } from '../cel/parse.ts';
import { type CelFunction, compileCel, generate } from '../cel/generate.ts';

/** What a name in a rule's expression stands for. */
export type RuleRef =
  | { from: 'answer'; item: Item; field?: string }
  | { from: 'parameter'; name: string }
  | { from: 'vehicle'; field: VehicleField }
  | { from: 'event'; name: keyof EventDays }
  | { from: 'venue'; name: VenueName }
  | { from: 'fact'; name: string }
  | { from: 'position' };

type Variable = CelVariable<RuleRef>;
type Found = ReturnType<CelScope<RuleRef>['find']>;

const EVENT: readonly (keyof EventDays)[] = ['startsOn', 'endsOn'];
const VENUE: Readonly<Record<VenueName, CelType>> = {
  topSpeedKmh: { kind: 'quantity', unit: 'km/h' },
  soundLimitDb: { kind: 'quantity', unit: 'dB(A)' },
  soundDistanceM: { kind: 'quantity', unit: 'm' },
  lapLengthM: { kind: 'quantity', unit: 'm' },
  designAirTemperatureC: { kind: 'quantity', unit: '°C' },
};

/** The type of a single answer; numbers without a unit are plain. */
export function answerType(type: SimpleAnswerType): CelType {
  switch (type.kind) {
    case 'number':
      return type.unit === '1'
        ? { kind: 'double', decimals: type.decimals }
        : { kind: 'quantity', unit: type.unit, decimals: type.decimals };
    case 'choice':
      return { kind: 'string', options: type.options };
    case 'choices':
      return { kind: 'list', of: { kind: 'string', options: type.options } };
    case 'confirm':
    case 'yes-no':
      return { kind: 'bool' };
    case 'date':
      return { kind: 'date' };
    case 'text':
      return { kind: 'string' };
  }
}

/** One value at the rule's position, or a map where the rule's position holds several. */
function spreadOver(type: CelType, scheme: PositionScheme | undefined, each: PositionScheme | undefined): CelType {
  if (scheme === undefined) return type;
  const relation = each === undefined ? 'unrelated' : relate(scheme, each);
  if (relation === 'same' || relation === 'coarser') return type;
  return { kind: 'map', of: type, keys: mapNames(scheme, each) };
}

function itemVariable(item: Item, each: PositionScheme | undefined): Variable {
  const { answer } = item;
  if (answer.kind !== 'fields') {
    return { type: spreadOver(answerType(answer), item.positions, each), ref: { from: 'answer', item } };
  }
  const record: CelType = { kind: 'record', fields: Object.keys(answer.fields) };
  return {
    type: spreadOver(record, item.positions, each),
    ref: { from: 'answer', item },
    field(name) {
      const part = Object.hasOwn(answer.fields, name) ? answer.fields[name] : undefined;
      if (part === undefined) return undefined;
      return {
        type: spreadOver(answerType(part.type), item.positions, each),
        ref: { from: 'answer', item, field: name },
      };
    },
  };
}

function vehicleType(field: VehicleField, each: PositionScheme | undefined): CelType {
  const { type } = field;
  const base: CelType =
    type.kind === 'number'
      ? { kind: 'quantity', unit: type.unit }
      : type.kind === 'choice'
        ? { kind: 'string', options: type.options }
        : { kind: type.kind === 'boolean' ? 'bool' : type.kind === 'whole' ? 'int' : 'string' };
  return spreadOver(base, field.scheme, each);
}

function parameterType(name: string, parameter: Parameter): CelType {
  switch (kindOf(parameter.value)) {
    case 'number': {
      const unit = unitOfParameter(parameter);
      return unit === undefined ? { kind: 'error' } : unit === '1' ? { kind: 'double' } : { kind: 'quantity', unit };
    }
    case 'yes-no':
      return { kind: 'bool' };
    case 'date':
      return { kind: 'date' };
    case 'text':
      return { kind: 'string', parameter: name };
    case 'list':
      return { kind: 'list', of: { kind: 'string' }, parameter: name };
  }
}

/** Told what an expression reads, so that unused parameters and unlisted items can be named. */
export interface Uses {
  items: Set<string>;
  parameters: Set<string>;
  options: { parameter: string; options: readonly string[] }[];
  /** parameters that count calendar steps: whole numbers only */
  steps: Set<string>;
  /** parameters that are a difference of temperatures: in K only, any other unit would be a place on a scale */
  differences: Set<string>;
  /** parameters that something is divided by: never 0 */
  divisors: Set<string>;
  /** offsets in an expression of divisors that are 0 whatever is answered */
  zeroDivisors: Set<number>;
}

/** Nothing used yet. */
export const noUses = (): Uses => ({
  items: new Set(),
  parameters: new Set(),
  options: [],
  steps: new Set(),
  differences: new Set(),
  divisors: new Set(),
  zeroDivisors: new Set(),
});

const unknown = (fault: string): Found => ({ fault, unknown: 'name' });
const found = (variable: Variable, taken: number): Found => ({ variable, taken });

function findItemName(path: readonly string[], each: PositionScheme | undefined, uses: Uses): Found {
  for (let taken = Math.min(path.length, 4); taken > 0; taken -= 1) {
    const key = path.slice(0, taken).join('.').replaceAll('_', '-');
    const item = findItem(key);
    if (item !== undefined) {
      uses.items.add(item.key);
      return found(itemVariable(item, each), taken);
    }
  }
  return { fault: `there is no item or name ${JSON.stringify(path.join('.'))}`, unknown: 'item' };
}

function findVehicleName(path: readonly string[], each: PositionScheme | undefined): Found {
  for (let taken = path.length; taken > 1; taken -= 1) {
    const field = findVehicleField(path.slice(1, taken).join('.'));
    if (field !== undefined) return found({ type: vehicleType(field, each), ref: { from: 'vehicle', field } }, taken);
  }
  return unknown(`the vehicle record has no ${JSON.stringify(path.slice(1).join('.'))}`);
}

type Finder = (name: string, ruleSet: RuleSet, uses: Uses, each: PositionScheme | undefined) => Found;

const findParameter: Finder = (name, ruleSet, uses) => {
  const parameter = Object.hasOwn(ruleSet.parameters, name) ? ruleSet.parameters[name] : undefined;
  if (parameter === undefined) return { fault: `there is no parameter ${JSON.stringify(name)}`, unknown: 'parameter' };
  uses.parameters.add(name);
  return found({ type: parameterType(name, parameter), ref: { from: 'parameter', name } }, 2);
};

const findEventDay: Finder = (name) => {
  const day = EVENT.find((one) => one === name);
  if (day === undefined) return unknown(`event has ${EVENT.join(' and ')}`);
  return found({ type: { kind: 'date' }, ref: { from: 'event', name: day } }, 2);
};

const findVenueFact: Finder = (name) => {
  if (!Object.hasOwn(VENUE, name)) return unknown(`venue has ${Object.keys(VENUE).join(', ')}`);
  const fact = name as VenueName; // a key of VENUE, as tested above
  return found({ type: VENUE[fact], ref: { from: 'venue', name: fact } }, 2);
};

const findDerived: Finder = (name, _ruleSet, uses, each) => {
  const fact = findFact(name);
  if (fact === undefined) return unknown(`there is no derived fact ${JSON.stringify(name)}`);
  for (const item of fact.items) uses.items.add(item);
  return found({ type: spreadOver(fact.type, fact.scheme, each), ref: { from: 'fact', name } }, 2);
};

const FINDERS: ReadonlyMap<string, Finder> = new Map([
  ['params', findParameter],
  ['event', findEventDay],
  ['venue', findVenueFact],
  ['facts', findDerived],
]);

function findNamed(
  path: readonly string[],
  ruleSet: RuleSet,
  each: PositionScheme | undefined,
  uses: Uses,
): Found | undefined {
  const [head = '', name = ''] = path;
  if (head === 'vehicle') return findVehicleName(path, each);
  if (head === 'position') {
    if (each === undefined) return unknown('position has a meaning only in a rule with each');
    return found({ type: { kind: 'string', options: POSITION_KEYS[each] }, ref: { from: 'position' } }, 1);
  }
  return FINDERS.get(head)?.(name, ruleSet, uses, each);
}

/** The names an expression of this rule set may use in a rule that runs over `each`. */
export function ruleScope(ruleSet: RuleSet, each: PositionScheme | undefined, uses: Uses): CelScope<RuleRef> {
  return {
    find: (path) => findNamed(path, ruleSet, each, uses) ?? findItemName(path, each, uses),
    useDifference(ref) {
      if (ref.from === 'parameter') uses.differences.add(ref.name);
    },
    useDivisor(ref) {
      if (ref.from === 'parameter') uses.divisors.add(ref.name);
    },
    useZeroDivisor(at) {
      uses.zeroDivisors.add(at);
    },
    useOptions(parameter, options) {
      uses.options.push({ parameter, options });
      const value = ruleSet.parameters[parameter]?.value;
      return typeof value === 'string' ? [value] : Array.isArray(value) ? value : [];
    },
  };
}

export interface CompiledPart {
  variables: readonly CelVariable<RuleRef>[];
  run: CelFunction<unknown, unknown>;
}

/** A comparison of an answer with a limit, so that a finding can show both; `operator` reads answer first. */
export interface ComparedParts {
  answer: CompiledPart;
  limit: CompiledPart;
  operator: Exclude<Comparison, '!='>;
  unit: Unit;
  decimals: number;
}

/** A yes/no expression of a rule, compiled. */
export interface RuleExpression extends CompiledPart {
  compared?: ComparedParts;
}

const MIRRORED = { '<': '>', '<=': '>=', '>': '<', '>=': '<=', '==': '==' } as const;
/** shown where an expression works with numbers that no item gives decimals to */
const OTHER_DECIMALS = 6;

/** What a part says of the car: its answers, else what was derived from them, else nothing. */
function saysOfCar(part: CompiledPart): number {
  const from = new Set(part.variables.map((variable) => variable.ref.from));
  return from.has('answer') ? 2 : from.has('fact') ? 1 : 0;
}

/** How a number of this type is shown: its unit, and the decimals it is kept with. */
function shownAs(type: CelType): { unit: Unit; decimals: number } {
  if (type.kind === 'quantity') return { unit: type.unit, decimals: type.decimals ?? OTHER_DECIMALS };
  return { unit: '1', decimals: (type.kind === 'double' ? type.decimals : undefined) ?? OTHER_DECIMALS };
}

function findCompared(checked: Checked<RuleRef>): ComparedParts | undefined {
  if (checked.k !== 'compare' || checked.operator === '!=' || !isNumeric(checked.left.type)) return undefined;
  // texts are ordered by a step whose result is a whole number: there is nothing to show of it
  if (checked.left.k === 'step' && checked.left.type.kind === 'int') return undefined;
  const left = generate(checked.left);
  const right = generate(checked.right);
  const { unit, decimals } = shownAs(checked.left.type);
  const { operator } = checked;
  const [one, other] = [saysOfCar(left), saysOfCar(right)];
  if (one === 0 && other === 0) return undefined;
  if (one >= other) return { answer: left, limit: right, operator, unit, decimals };
  return { answer: right, limit: left, operator: MIRRORED[operator], unit, decimals };
}

/** Compiles an expression of a rule that runs over `each`; `uses` is told what it reads. */
export function compileRuleExpression(
  source: string,
  ruleSet: RuleSet,
  each: PositionScheme | undefined,
  uses: Uses,
): { ok: true; expression: RuleExpression } | { ok: false; faults: CelFault[] } {
  const compiled = compileCel(source, ruleScope(ruleSet, each, uses), 'bool');
  if (!compiled.ok) return compiled;
  const { variables, run, checked } = compiled.expression;
  const compared = findCompared(checked);
  return { ok: true, expression: { variables, run, ...(compared !== undefined && { compared }) } };
}
