import { findItem } from '../../catalogue/catalogue.ts';
import type { Item } from '../../catalogue/item.ts';
import { type AnswerValue, type Cell, cellKey, parseCellKey, type RawAnswers } from '../../declaration/declaration.ts';
import type { CelType, CelValue } from '../cel/types.ts';
import { type BoundRead, fieldText, sentText } from './explain-binder.ts';
import { findFact } from '../model/facts.ts';
import { typeOfAnswer } from '../kinds/answer.ts';
import type { RuleRef } from '../model/rule-scope.ts';
import { type AnswerPlace, type Place, readAnswer, RULE_READER, type Run } from '../judge/run.ts';

/** Answers as they were sent, item key → answer, before any conversion. */
export interface SentAnswers {
  declared: RawAnswers;
  measured?: RawAnswers | undefined;
}

/** One answer that a rule read: as it was sent, and as it was judged in the item's own unit. */
export interface ExplainedInput {
  item: string;
  label: string;
  position?: string;
  field?: string;
  /** as it was sent; absent: not answered */
  sent?: unknown;
  /** the same for people: `3/32 in` */
  sentText?: string;
  /** in the item's unit and decimals; absent: there was nothing to judge */
  value?: AnswerValue;
  unit?: string;
  /** who gave the value that was judged */
  by?: 'entrant' | 'inspector';
  note?: string;
}

/** What a rule read besides answers. */
export interface ExplainedRead {
  from: 'vehicle' | 'venue' | 'event';
  name: string;
  label: string;
  /** absent: the record does not state it */
  value?: CelValue;
  unit?: string;
}

export interface ExplainedFact {
  /** `tyreAge`, with the position where it has one: `tyreAge@FL` */
  name: string;
  /** what it is, as it stands in a sentence */
  meaning: string;
  /** absent: it could not be derived */
  value?: CelValue;
  unit?: string;
  /** what it was worked out from beside the answers, a line each */
  restsOn?: readonly string[];
}

/** Everything that one rule read at one position, each once. */
export interface ExplainedReads {
  inputs: ExplainedInput[];
  records: ExplainedRead[];
  facts: ExplainedFact[];
}

/** A unit to show: none for plain numbers. */
const unitOf = (type: CelType | undefined): { unit?: string } => (type?.kind === 'quantity' ? { unit: type.unit } : {});

function sentAt(raw: RawAnswers | undefined, cell: string): unknown {
  const { key, position, field } = parseCellKey(cell);
  let value: unknown = raw !== undefined && Object.hasOwn(raw, key) ? raw[key] : undefined;
  for (const part of [position, field]) {
    if (part === undefined) continue;
    if (typeof value !== 'object' || value === null || !Object.hasOwn(value, part)) return undefined;
    value = (value as Readonly<Record<string, unknown>>)[part];
  }
  return value ?? undefined;
}

/** An answer's label, with the label of its part. */
function labelOf(item: Item | undefined, { key, field }: Cell): string {
  if (item === undefined) return key;
  const part = item.answer.kind === 'fields' && field !== undefined ? item.answer.fields[field] : undefined;
  return part === undefined ? item.label : `${item.label}, ${part.label}`;
}

/** The question an answer's cell stands for, with its part, and the unit of a number. */
function questionOf(cell: Cell): Omit<ExplainedInput, 'value'> {
  const { key, position, field } = cell;
  const item = findItem(key);
  const type = item && typeOfAnswer(item, field);
  return {
    item: key,
    label: labelOf(item, cell),
    ...(position !== undefined && { position }),
    ...(field !== undefined && { field }),
    ...(type?.kind === 'number' && type.unit !== '1' && { unit: type.unit }),
  };
}

function inputOf(run: Run, place: AnswerPlace, sent: SentAnswers): ExplainedInput {
  const { unit, ...question } = questionOf(parseCellKey(place.cell));
  run.source = undefined;
  // an answer's cell holds a single value: the maps of positions were taken apart before
  const value = readAnswer(run, place) as AnswerValue | undefined;
  const by = run.source === 'measured' ? 'inspector' : 'entrant';
  const raw = sentAt(by === 'inspector' ? sent.measured : sent.declared, place.cell);
  return {
    ...question,
    ...(raw !== undefined && { sent: raw, sentText: sentText(raw, unit) }),
    ...(value !== undefined && { value, by, ...(unit !== undefined && { unit }) }),
    ...noteOf(place, raw, value),
    ...(raw === undefined && value !== undefined && by === 'entrant' && lowestNote(place)),
  };
}

/** A value that no place of its own was given for is the lowest around it. */
function lowestNote({ lowest }: AnswerPlace): { note?: string } {
  const { position } = parseCellKey(lowest?.cell ?? '');
  return position === undefined ? {} : { note: `The lowest value was given once, for ${position}.` };
}

function noteOf(place: AnswerPlace, raw: unknown, value: unknown): { note?: string } {
  if (value !== undefined) return {};
  if (!place.inspectorOnly) return raw === undefined ? {} : { note: 'This answer could not be read any more.' };
  const note = 'Only an inspector answers this.';
  return { note: raw === undefined ? note : `${note} What was declared does not count.` };
}

const LABELS: Readonly<Record<string, string>> = {
  startsOn: 'first event day',
  endsOn: 'last event day',
  topSpeedKmh: 'top speed at the venue',
  soundLimitDb: 'sound limit of the venue',
  soundDistanceM: 'distance of the sound limit',
  lapLengthM: 'length of a lap',
  designAirTemperatureC: 'air temperature to plan for',
};
const VENUE_UNITS: Readonly<Record<string, string>> = {
  topSpeedKmh: 'km/h',
  soundLimitDb: 'dB(A)',
  soundDistanceM: 'm',
  lapLengthM: 'm',
  designAirTemperatureC: '°C',
};

function readOf(run: Run, ref: RuleRef, place: Place): ExplainedRead | undefined {
  const value = RULE_READER.has(run, place) ? RULE_READER.get(run, place) : undefined;
  const shown = value === undefined ? {} : { value };
  if (place.k === 'vehicle' && ref.from === 'vehicle') {
    const { type } = ref.field;
    const unit = type.kind === 'number' ? { unit: type.unit } : {};
    return { from: 'vehicle', name: place.path.join('.'), label: fieldText(place.path), ...shown, ...unit };
  }
  if (ref.from !== 'venue' && ref.from !== 'event') return undefined;
  const unit = VENUE_UNITS[ref.name];
  return {
    from: ref.from,
    name: ref.name,
    label: LABELS[ref.name] ?? ref.name,
    ...shown,
    ...(unit !== undefined && { unit }),
  };
}

const placesOf = (place: Place): Place[] =>
  place.k === 'map' ? [...place.entries.values()].flatMap(placesOf) : [place];

function factOf(run: Run, place: Extract<Place, { k: 'fact' }>): ExplainedFact {
  const value = place.derive(run);
  const fact = findFact(place.fact);
  const sources = value === undefined ? [] : place.restsOn(run);
  return {
    name: place.name,
    meaning: fact?.meaning ?? place.fact,
    ...(value !== undefined && { value }),
    ...unitOf(fact?.type),
    ...(sources.length > 0 && { restsOn: sources }),
  };
}

function add(to: ExplainedReads, run: Run, { ref, place }: BoundRead, sent: SentAnswers): void {
  for (const one of placesOf(place)) {
    if (one.k === 'answer') {
      const input = inputOf(run, one, sent);
      const cell = cellKey(input.item, input.position, input.field);
      if (!to.inputs.some((known) => cellKey(known.item, known.position, known.field) === cell)) to.inputs.push(input);
    } else if (one.k === 'fact') {
      if (to.facts.every((known) => known.name !== one.name)) to.facts.push(factOf(run, one));
    } else {
      const read = readOf(run, ref, one);
      const isKnown = to.records.some((known) => known.from === read?.from && known.name === read.name);
      if (read !== undefined && !isKnown) to.records.push(read);
    }
  }
}

/**
 * What was read at these places, with the values as sent and as judged. An item whose record only has parts is told
 * by its parts; each thing is named once, in the order of `reads`.
 *
 * @param run read from, and left without a trace
 */
export function explainReads(run: Run, reads: readonly BoundRead[], sent: SentAnswers): ExplainedReads {
  const to: ExplainedReads = { inputs: [], records: [], facts: [] };
  for (const read of reads) add(to, run, read, sent);
  run.source = undefined;
  return to;
}
