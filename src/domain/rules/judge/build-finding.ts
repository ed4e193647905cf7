import { type Item, POSITION_KEYS, type PositionScheme } from '../../catalogue/item.ts';
import { factPlace, findFact } from '../model/facts.ts';
import {
  type Basis,
  clearedByOf,
  countsAs,
  type Effect,
  type Finding,
  PlainFinding,
  type Reading,
  type Reliability,
} from '../model/finding.ts';
import { answerPlace, type Binder } from '../kinds/answer.ts';
import { enclosing, relate, subPositions } from '../model/rule-each.ts';
import type { ClearedBy, Rule } from '../model/rule-set.ts';
import type { RuleRef } from '../model/rule-scope.ts';
import { awaitsOf, clearsMissing, saysOf } from './awaits.ts';
import type { Missing, Place, Run } from './run.ts';
import type { VehicleField } from '../model/vehicle-fields.ts';

/** What all findings of one rule at one position share. */
export interface FindingHead {
  ruleId: string;
  title: string;
  position: string | undefined;
  effect: Effect;
  /** on watch: its findings are counted and judge nobody */
  watched: true | undefined;
  items: readonly string[];
  basis: Basis;
  message: string;
  fix: string;
  /** what clears it at the line */
  clearedBy: ClearedBy;
  /** what it means that somebody says there is no answer */
  noAnswer: Rule['noAnswer'];
  /** what a derived fact adds to `fix`, where it is known */
  fixMore?: ((run: Run) => string | undefined) | undefined;
}

/**
 * What a rule says of itself, at one position. In one literal: what is added by a spread gives each head a shape of its own,
 * and judging halves its speed.
 */
export function headOf(rule: Rule, position: string | undefined, fixMore?: FindingHead['fixMore']): FindingHead {
  const { id: ruleId, title, effect, watch: watched, items, basis, message, fix, noAnswer } = rule;
  const clearedBy = clearedByOf(rule);
  return {
    ruleId,
    title,
    position,
    effect,
    watched,
    items,
    basis,
    message,
    fix,
    clearedBy,
    noAnswer,
    fixMore,
  };
}

/** A rule at one position: judges a run; `undefined` = the rule does not apply to it. */
export type Judge = (run: Run) => Finding | undefined;

/** The finding of a rule that is met. */
export function metFinding(
  head: FindingHead,
  run: Run,
  measured: Reading | undefined,
  limit: string | undefined,
  margin: Finding['margin'],
): Finding {
  return new PlainFinding(head, 'met', 'no', measured, limit, margin, run.source, '', '', undefined, undefined, 'look');
}

function fixOf(head: FindingHead, run: Run): string {
  const more = head.fixMore?.(run);
  return more === undefined ? head.fix : `${head.fix} ${more}`;
}

function concededOf(head: FindingHead, run: Run): Finding['conceded'] {
  const concession = run.concessions?.get(head.ruleId);
  if (concession === undefined) return undefined;
  const { concessionId, expiresAt, condition } = concession;
  return condition === undefined ? { concessionId, expiresAt } : { concessionId, expiresAt, condition };
}

/** The finding of a rule that is not met. */
export function notMetFinding(
  head: FindingHead,
  run: Run,
  measured: Reading | undefined,
  limit: string | undefined,
  margin: Finding['margin'],
  reliability?: Reliability,
): Finding {
  const conceded = concededOf(head, run);
  const isConceded = conceded !== undefined;
  const counts = head.watched ? 'no' : countsAs('not-met', head.effect, isConceded, run.stage);
  const { message } = head;
  const fix = fixOf(head, run);
  return new PlainFinding(
    head,
    'not-met',
    counts,
    measured,
    limit,
    margin,
    run.source,
    message,
    fix,
    conceded,
    reliability,
    // whoever granted the exception knew the value: the line looks
    isConceded ? 'look' : head.clearedBy,
  );
}

/** The finding of a rule that lacks an input, or whose inputs give no answer; the message names them. */
export function unanswerableFinding(
  head: FindingHead,
  run: Run,
  missing: readonly Missing[],
  limit?: string,
  measured?: Reading,
): Finding {
  const conceded = concededOf(head, run);
  const awaits = awaitsOf(head, run, missing);
  const says = [...new Set(missing.map((one) => saysOf(run, one)))].join('; ');
  const isConceded = conceded !== undefined;
  const counts = head.watched ? 'no' : countsAs('unanswerable', head.effect, isConceded, run.stage, awaits);
  const message = says === '' ? 'The answers given do not allow an answer here' : says;
  const { source } = run;
  const fix = fixOf(head, run);
  const clearedBy = clearsMissing(head, run, missing);
  return new PlainFinding(
    head,
    'unanswerable',
    counts,
    measured,
    limit,
    undefined,
    source,
    message,
    fix,
    conceded,
    undefined,
    clearedBy,
    factsMissing(missing),
  );
}

function factsMissing(missing: readonly Missing[]): Finding['facts'] {
  const paths = new Set(missing.flatMap(({ fact }) => fact ?? []));
  return paths.size === 0 ? undefined : Array.from(paths, (path) => ({ path, why: 'missing' }));
}

/**
 * The finding of a value that is inside its limit and yet not enough: too near to it for how good the reading is, or hardly
 * what was meant. The line takes a new one.
 */
export function unreliableFinding(
  head: FindingHead,
  run: Run,
  measured: Reading,
  limit: string | undefined,
  margin: Finding['margin'],
  reliability: Reliability,
  { message, fix }: { message: string; fix: string },
): Finding {
  const conceded = concededOf(head, run);
  // never a bar: nothing was found outside
  const counts = head.watched ? 'no' : head.effect === 'advise' ? 'advise' : 'inspect';
  const { source } = run;
  return new PlainFinding(
    head,
    'unanswerable',
    counts,
    measured,
    limit,
    margin,
    source,
    message,
    fix,
    conceded,
    reliability,
    // a tick does not make a number likely
    reliability.kind === 'implausible' ? 'measure' : head.clearedBy,
  );
}

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
