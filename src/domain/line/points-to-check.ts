import { CATALOGUE, findItem, itemApplies, positionsFor } from '../catalogue/catalogue.ts';
import { isReadAtPair, mustBeRead, needsReading } from '../car/car-facts.ts';
import { itemOfFact, numberFactOf } from '../car/fact-table.ts';
import { isNear, type Item } from '../catalogue/item.ts';
import { itemTexts, optionName } from '../catalogue/texts.ts';
import { type AnswerBasis, basisAt, lowestAround } from '../declaration/basis.ts';
import { type Answers, type AnswerValue, cellKey, isAsked } from '../declaration/declaration.ts';
import type { Finding } from '../rules/model/finding.ts';
import type { EntryDoubt } from '../foresight/entry-doubts.ts';
import type { RefusedPoint } from '../clearance/inspect-again.ts';
import { inspectFindings } from '../clearance/clearance.ts';
import { DEFAULT_LANGUAGE } from '../language.ts';
import type { AlwaysLook } from '../rules/model/rule-set.ts';
import { messageIn } from '../rules/says/rule-words.ts';
import { placesToMeasure, valuesOn } from './line-judgement.ts';
import { pointsForSymptoms } from '../trade/line/symptom-triage.ts';
import { SYMPTOMS } from '../trade/line/symptom-triage-table.ts';
import type { Vehicle } from '../vehicle.ts';

/** One point at which the inspector looks or measures. */
export interface PointToCheck {
  item: string;
  position?: string;
  label: string;
  /** why it is on the list, in one sentence */
  why: string;
  /** `refused`: the car was refused for it; `always`: this group looks at it on every car; `rule`: a finding asks for it; `felt`: what the driver felt points at it; `doubt`: answers there do not go together; `chosen`: often wrong on such cars (`withChosen`); `usual`: worth a look, not demanded */
  asked: 'refused' | 'always' | 'rule' | 'felt' | 'doubt' | 'chosen' | 'usual';
  /** of `always`: the point of the rules that it belongs to */
  always?: { id: string; title: string; seconds: number };
  /** a tick is not enough here: a value is asked */
  needsValue?: true;
  /** the rule that asks for it; absent for points that are looked at on every car */
  ruleId?: string;
  /** what the entrant declared there, per part of a composite answer under `#part` */
  declared?: Readonly<Record<string, AnswerValue>>;
  /** what that rests on, where it was not read at this place alone */
  basis?: AnswerBasis;
}

/**
 * What the line has to look at: first what the car was refused for, then what the group looks at on every car, then the
 * points that a rule's finding asks for, then those that what the driver felt points at, the most urgent first, then answers that do not go together, then every
 * other item that the inspector answers on this car, in catalogue order. A point stands once; one that a rule asks for says
 * what was felt as well.
 */
export function pointsToCheck(
  findings: readonly Finding[],
  answers: Answers,
  vehicle: Vehicle,
  beside: Beside = {},
): PointToCheck[] {
  const { language = DEFAULT_LANGUAGE } = beside;
  return pointsInOrder(findings, answers, vehicle, beside).map((point) => ({
    ...point,
    ...labelIn(point, language),
    ...saidAt(point, answers),
  }));
}

/** What gives points besides findings. */
interface Beside {
  refused?: readonly RefusedPoint[];
  always?: readonly AlwaysLook[];
  doubts?: readonly EntryDoubt[];
  language?: string;
}

/** The same points, without their labels in the language and without what was declared there. */
export function pointsInOrder(
  findings: readonly Finding[],
  answers: Answers,
  vehicle: Vehicle,
  { refused = [], always = [], doubts = [], language = DEFAULT_LANGUAGE }: Beside,
): PointToCheck[] {
  const felt = feltPoints(answers, vehicle, language);
  const points = new Map<string, PointToCheck>();
  const byRules = inspectFindings(findings)
    .flatMap((finding) => askedBy(finding, vehicle, answers))
    .map((asked) => withFelt(asked, felt));
  for (const point of [
    ...refused.map((one) => refusedFor(one, byRules, language)),
    ...always.flatMap(lookedAtAlways),
    ...byRules,
    ...felt,
    ...doubts.flatMap((doubt) => doubtedPoints(doubt, language)),
    ...CATALOGUE.flatMap((item) => usual(item, { vehicle, answers, language })),
  ]) {
    const cell = cellKey(point.item, point.position);
    const known = points.get(cell);
    if (known === undefined) points.set(cell, point);
    // looked at on every car, and asked for by a rule as well: it says why, and what clears it
    else if (known.asked === 'always' && point.asked === 'rule') points.set(cell, { ...known, ...ruleOf(point) });
    else if (point.asked === 'doubt') points.set(cell, { ...known, why: `${known.why} ${point.why}` });
  }
  return [...points.values()];
}

/** The question of the catalogue in the language; English stands with the item. */
function labelIn({ item: key, label }: PointToCheck, language: string): Pick<PointToCheck, 'label'> {
  const item = findItem(key);
  return { label: item === undefined ? label : itemTexts(item, language).label };
}

const ruleOf = ({ why, ruleId, needsValue }: PointToCheck): Partial<PointToCheck> => ({
  why,
  ...(ruleId === undefined ? {} : { ruleId }),
  ...(needsValue === undefined ? {} : { needsValue }),
});

/** What is looked at on every car, in a language; without a text in it the title is that of the rule set. */
export const alwaysIn = (points: readonly AlwaysLook[], language: string): AlwaysLook[] =>
  points.map((point) => ({ ...point, title: point.texts?.[language]?.title ?? messageIn(point.title, language) }));

function lookedAtAlways({ id, title, items, seconds }: AlwaysLook): PointToCheck[] {
  return items.map((item) => ({
    item,
    label: findItem(item)?.label ?? item,
    why: title,
    asked: 'always',
    always: { id, title, seconds },
  }));
}

function refusedFor(
  { item, position, why }: RefusedPoint,
  byRules: readonly PointToCheck[],
  language: string,
): PointToCheck {
  const cell = cellKey(item, position);
  const rule = byRules.find((one) => cellKey(one.item, one.position) === cell);
  const label = findItem(item)?.label ?? item;
  const said = messageIn(`The car was refused for it: ${why}`, language);
  if (rule === undefined) return { item, label, why: said, asked: 'refused', ...at(position) };
  return { ...rule, why: `${said} ${rule.why}`, asked: 'refused' };
}

function doubtedPoints({ item, places, says }: EntryDoubt, language: string): PointToCheck[] {
  const asked = findItem(item);
  if (asked === undefined || asked.answeredBy === 'entrant') return [];
  const { label } = asked;
  const why = messageIn(says, language);
  return places.map((position) => ({ item, position, label, why, asked: 'doubt' }));
}

function askedBy(finding: Finding, vehicle: Vehicle, answers: Answers): PointToCheck[] {
  const why = finding.message === '' ? finding.title : finding.message;
  const rule = { why, asked: 'rule' as const, ruleId: finding.ruleId };
  const isStampOpen = finding.facts?.some(mustBeRead) === true;
  const toMeasure = (finding.clearedBy === 'measure' ? placesToMeasure(finding, valuesOn(vehicle)) : []).filter(
    (place) => !isStampOpen || !isDeclared(place, answers),
  );
  const isMeasured = (item: string): boolean => toMeasure.some((place) => place.item === item);
  const toLook = finding.items.filter((item) => !isMeasured(item) && !isSaidElsewhere(item, finding));
  const label = (item: string): string => findItem(item)?.label ?? item;
  const facts = factPoints(finding, vehicle).map((point) => ({ ...rule, label: label(point.item), ...point }));
  if (finding.facts?.some((fact) => fact.why === 'unconfirmed')) return facts;
  // a look at the part says nothing of its mark
  if (isStampOpen && toMeasure.length === 0) return facts;
  return [
    ...facts,
    ...toMeasure.map(({ item, position }) => ({
      item,
      label: label(item),
      ...rule,
      needsValue: true as const,
      ...at(position),
    })),
    ...toLook.flatMap((item) =>
      placesToLook(item, finding.position, vehicle).map((position) => ({
        item,
        label: label(item),
        ...rule,
        ...at(position),
      })),
    ),
  ];
}

/**
 * Whether the finding is about what asks the same in less detail, too: then that is the point. Nor is what the whole car is
 * asked, beside an item at the place of the finding, a thing to look at there: the kind of tyres at each wheel.
 */
function isSaidElsewhere(key: string, { items, position }: Finding): boolean {
  if (items.some((item) => item === findItem(key)?.detailOf)) return true;
  const isOfCar = position !== undefined && findItem(key)?.positions === undefined;
  return isOfCar && items.map(findItem).some((item) => item?.positions && item.answeredBy !== 'entrant');
}

/** The numbers of the car that a finding waits for. Both wheels of an axle that were written alike are read once. */
function factPoints(
  { facts = [] }: Finding,
  vehicle: Vehicle,
): Pick<PointToCheck, 'item' | 'position' | 'needsValue'>[] {
  return facts.flatMap(({ path, why }) => {
    const fact = numberFactOf(path);
    if (fact === undefined || isReadAtPair(path, vehicle)) return [];
    // nobody may sign for a number that is not there, nor tick one that is a slip: but the maker's may be agreed with
    const isRead = mustBeRead({ path, why }) || (why === 'unconfirmed' && needsReading(path, vehicle));
    return [{ ...itemOfFact(path), ...(isRead && { needsValue: true as const }) }];
  });
}

/**
 * Where the line looks at one item of a finding at a position: there, or where the item is asked near it. A rule per axle
 * may read what is asked per wheel, a rule per wheel what is asked once for the car.
 */
function placesToLook(key: string, position: string | undefined, vehicle: Vehicle): readonly (string | undefined)[] {
  const item = findItem(key);
  const asked = item && positionsFor(item, vehicle);
  if (asked === undefined || position === undefined) return [undefined];
  // seen by wheel, asked by pad or tread zone: looking at the wheel is looking at all of it
  if (asked.some((one) => one === position || one.startsWith(`${position}.`))) return [position];
  return asked.filter((one) => isNear(one, position));
}

/** The points that the symptoms of the declaration add: what an inspector can look at on this car. */
function feltPoints(answers: Answers, vehicle: Vehicle, language: string): PointToCheck[] {
  const told = answers.get('debrief.symptoms');
  // a symptom that a later catalogue no longer has adds nothing
  const known = Array.isArray(told) ? told.filter((symptom) => Object.hasOwn(SYMPTOMS, symptom)) : [];
  return pointsForSymptoms(known).flatMap(({ item: key, positions, reasons }) => {
    const item = findItem(key);
    if (item === undefined || !itemApplies(item, vehicle)) return [];
    const why = feltIn(reasons, language);
    const asked = positionsFor(item, vehicle);
    const wanted =
      asked === undefined || positions.length === 0 ? asked : asked.filter((one) => isWithin(one, positions));
    return (wanted ?? [undefined]).map((position) => ({
      item: key,
      label: item.label,
      why,
      asked: 'felt' as const,
      ...at(position),
    }));
  });
}

/** What was felt, and why it points here. */
function feltIn(reasons: readonly { symptom: string; why: string }[], language: string): string {
  const felt = findItem('debrief.symptoms');
  const nameOf = (symptom: string): string =>
    felt === undefined || language === DEFAULT_LANGUAGE ? symptom : optionName(felt, undefined, symptom, language);
  const told = reasons.map(({ symptom, why }) => `${nameOf(symptom)}: ${messageIn(why, language)}`);
  return messageIn(`Felt last time: ${told.join('; ')}.`, language);
}

const isWithin = (position: string, named: readonly string[]): boolean =>
  named.some((one) => one === position || position.startsWith(`${one}.`));

/** What was felt is shown at the point that a rule asks for, too: it may be why the rule asks. */
function withFelt(asked: PointToCheck, felt: readonly PointToCheck[]): PointToCheck {
  const same = felt.find(
    ({ item, position }) => item === asked.item && (asked.position === undefined || position === asked.position),
  );
  return same === undefined ? asked : { ...asked, why: `${asked.why} ${same.why}` };
}

function usual(
  item: Item,
  { vehicle, answers, language }: { vehicle: Vehicle; answers: Answers; language: string },
): PointToCheck[] {
  if (item.answeredBy === 'entrant' || !itemApplies(item, vehicle)) return [];
  const says = item.answeredBy === 'inspector' ? 'Only the line can answer this.' : 'Declared; the line checks it.';
  const why = messageIn(says, language);
  const positions = (positionsFor(item, vehicle) ?? [undefined]).filter((position) => isAsked(item, position, answers));
  return positions.map((position) => ({ item: item.key, label: item.label, why, asked: 'usual', ...at(position) }));
}

const at = (position: string | undefined): { position?: string } => (position === undefined ? {} : { position });

/** What was declared at a point and what it rests on; where nothing was, the lowest value around it. */
function saidAt(
  { item: key, position }: Pick<PointToCheck, 'item' | 'position'>,
  answers: Answers,
): Pick<PointToCheck, 'declared' | 'basis'> {
  const item = findItem(key);
  const around = item && position !== undefined ? lowestAround(item, position) : undefined;
  for (const place of [cellKey(key, position), ...(around === undefined ? [] : [cellKey(key, around)])]) {
    const declared = declaredAt(place, key, answers);
    const basis = basisAt(answers, place);
    if (declared !== undefined) return { declared, ...(basis === undefined ? {} : { basis }) };
  }
  return {};
}

const isDeclared = (place: { item: string; position?: string | undefined }, answers: Answers): boolean =>
  saidAt(place, answers).declared !== undefined;

function declaredAt(cell: string, item: string, answers: Answers): Record<string, AnswerValue> | undefined {
  const type = findItem(item)?.answer;
  const names = type?.kind === 'fields' ? Object.keys(type.fields) : [undefined];
  const values = names.flatMap((name) => {
    const value = answers.get(name === undefined ? cell : `${cell}#${name}`);
    return value === undefined ? [] : [[name ?? 'value', value] as const];
  });
  return values.length === 0 ? undefined : Object.fromEntries(values);
}
