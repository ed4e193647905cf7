import { findItem } from '../../../domain/catalogue/catalogue.ts';
import { isNear, type Item, type SimpleAnswerType } from '../../../domain/catalogue/item.ts';
import { areaName, itemTexts, optionName, positionName, WALK_ORDER } from '../../../domain/catalogue/texts.ts';
import { EACH_PLACE } from '../../../domain/declaration/basis.ts';
import { type Answers, type AnswerValue, parseCellKey } from '../../../domain/declaration/declaration.ts';
import { noAnswerAt } from '../../../domain/declaration/no-answer.ts';
import { formatQuantity } from '../../../domain/quantity.ts';
import type { AskedCell } from '../../../domain/rules/judge/asked.ts';
import type { Finding } from '../../../domain/rules/model/finding.ts';
import { placeOfRule, type Says } from '../../../domain/rules/says/says.ts';
import type { Writing } from './event-sheets.ts';
import { type Block, type Say, tableOf } from './sheet.ts';

/** What is asked of one car, what the rules ask of the answers, and the answers that there are. */
export interface AskedOfCar {
  asked: readonly AskedCell[];
  findings: readonly Finding[];
  says: ReadonlyMap<string, Says>;
  answers: Answers;
  /** whether answers are written, or left to a pen */
  filled: boolean;
  language: string;
}

interface Cell {
  item: Item;
  cell: string;
  position: string | undefined;
  field: string | undefined;
}

const typeOf = ({ item, field }: Cell): SimpleAnswerType | undefined => {
  const { answer } = item;
  if (answer.kind !== 'fields') return answer;
  return field === undefined ? undefined : answer.fields[field]?.type;
};

/** An answer as it is read on paper. */
function answerText(at: Cell, value: AnswerValue, say: Say, language: string): string {
  const type = typeOf(at);
  if (typeof value === 'boolean') return say(value ? 'yes' : 'noAnswer');
  if (typeof value === 'number') return type?.kind === 'number' ? formatQuantity(value, type.unit) : String(value);
  const options = (typeof value === 'string' ? [value] : [...value]).map((one) =>
    type?.kind === 'choice' || type?.kind === 'choices' ? optionName(at.item, at.field, one, language) : one,
  );
  return options.join(', ');
}

/** The answer at a cell, or at one that stands for it; empty where nothing was said. */
function saidText(at: Cell, { answers, language }: AskedOfCar, say: Say): string {
  const none = noAnswerAt(answers, at.cell);
  if (none !== undefined) return say(none.kind);
  const value = answers.get(at.cell);
  if (value !== undefined) return answerText(at, value, say, language);
  if (at.position !== EACH_PLACE) return '';
  // Asked once for all places: what was said of each of them.
  const said = [...answers].flatMap(([cell, one]) => {
    const { key, position, field } = parseCellKey(cell);
    const isOwn = key === at.item.key && field === at.field && !cell.endsWith('~') && !cell.endsWith('!');
    return isOwn && position !== undefined ? [{ position, text: answerText(at, one, say, language) }] : [];
  });
  const texts = new Set(said.map(({ text }) => text));
  if (texts.size === 1) return [...texts].join('');
  return said.map(({ position, text }) => `${positionName(position, language)}: ${text}`).join('; ');
}

/** What the rules ask of an answer, the strictest kind of rule first, each sentence once. */
function limitText({ item, position }: Cell, { findings, says }: AskedOfCar): string {
  const place = position === EACH_PLACE ? undefined : position;
  // A rule names first what it is about; what else it reads is asked for elsewhere.
  const own = findings.filter((one) => one.items[0] === item.key && isNear(one.position, place));
  const order = ['bar', 'inspect'];
  const told = own
    .filter(({ effect }) => order.includes(effect))
    .toSorted((a, b) => order.indexOf(a.effect) - order.indexOf(b.effect))
    .flatMap(({ ruleId, position: at }) => says.get(placeOfRule(ruleId, at))?.text ?? []);
  return [...new Set(told)].join(' ');
}

const whereText = (position: string | undefined, language: string, say: Say): string => {
  if (position === undefined) return '';
  return position === EACH_PLACE ? say('everywhere') : positionName(position, language);
};

function rowOf(at: Cell, of: AskedOfCar, say: Say): string[] {
  const { label, fields } = itemTexts(at.item, of.language);
  const part = at.field === undefined ? undefined : fields?.[at.field];
  const type = typeOf(at);
  const unit = type?.kind === 'number' ? `          ${type.unit}` : '';
  return [
    part === undefined ? label : `${label}: ${part}`,
    whereText(at.position, of.language, say),
    limitText(at, of),
    of.filled ? saidText(at, of, say) : unit,
    '☐',
  ];
}

const COLUMNS = [
  ['question', 4],
  ['where', 2],
  ['asked', 4],
  ['said', 2.2],
  ['line', 1.6],
] as const;

/** What this car is really asked, in walking order, a table per area. */
export function questionBlocks(of: AskedOfCar, { say }: Pick<Writing, 'say'>): Block[] {
  const cells = of.asked.flatMap(({ cell }): Cell[] => {
    const { key, position, field } = parseCellKey(cell);
    const item = findItem(key);
    return item === undefined ? [] : [{ item, cell, position, field }];
  });
  return WALK_ORDER.flatMap((area) => {
    const here = cells.filter(({ item }) => item.area === area);
    if (here.length === 0) return [];
    const rows = here.map((at) => rowOf(at, of, say));
    return [tableOf(say, COLUMNS, rows, { heading: areaName(area, of.language) })];
  });
}
