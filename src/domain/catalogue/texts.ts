import { DEFAULT_LANGUAGE } from '../language.ts';
import type { AnswerType, Area, Item, SimpleAnswerType } from './item.ts';
import deAreas from './text/de/areas.json' with { type: 'json' };
import deBody from './text/de/body-safety.json' with { type: 'json' };
import deBrakes from './text/de/brakes.json' with { type: 'json' };
import deChassis from './text/de/chassis.json' with { type: 'json' };
import deCar from './text/de/engine-driveline.json' with { type: 'json' };
import deOptions from './text/de/options.json' with { type: 'json' };
import deRest from './text/de/other.json' with { type: 'json' };
import dePositions from './text/de/positions.json' with { type: 'json' };
import enOptions from './text/en/options.json' with { type: 'json' };

/** The areas in the order in which one walks round a car: bonnet, outside, wheels, underneath, cockpit, then the papers. */
export const WALK_ORDER: readonly Area[] = [
  'engine',
  'cooling',
  'brake-hydraulics',
  'electric',
  'wheels-tyres',
  'brake-hardware',
  'suspension-steering',
  'driveline',
  'body-safety',
  'setup',
  'papers',
];

export const AREA_LABELS: Readonly<Record<Area, string>> = {
  engine: 'Engine bay',
  cooling: 'Cooling',
  'brake-hydraulics': 'Brake fluid and pedal',
  electric: 'Electric and hybrid system',
  'wheels-tyres': 'Wheels and tyres',
  'brake-hardware': 'Pads, linings, rotors and drums',
  'suspension-steering': 'Suspension and steering',
  driveline: 'Gearbox and driveline',
  'body-safety': 'Body, cockpit and safety equipment',
  setup: 'Set-up and last outing',
  papers: 'Papers and declaration',
};

/** The words of an item. `fields`: those of the parts of an answer, by their name. */
interface ItemTexts {
  label: string;
  help: string;
  fields?: Readonly<Record<string, string>>;
}

/** The words of the catalogue in one language; what is absent is said in English. */
interface CatalogueTexts {
  items: Readonly<Record<string, Partial<ItemTexts>>>;
  /** by option, or by `item:option` and `item.field:option` where it means another thing there */
  options: Readonly<Record<string, string>>;
  areas: Readonly<Partial<Record<Area, string>>>;
  /** where on the car, by position and by part of one (`in` of `FL.in`) */
  positions: Readonly<Record<string, string>>;
}

/** A third language is a third entry here, and its files. English labels and help stand with the items. */
export const CATALOGUE_TEXTS: Readonly<Record<string, CatalogueTexts>> = {
  en: { items: {}, options: enOptions, areas: AREA_LABELS, positions: {} },
  de: {
    items: { ...deCar, ...deBrakes, ...deChassis, ...deBody, ...deRest },
    options: deOptions,
    areas: deAreas,
    positions: dePositions,
  },
};

/** The languages that the catalogue is in; the first is the one that others fall back on. */
export const CATALOGUE_LANGUAGES: readonly string[] = Object.keys(CATALOGUE_TEXTS);

type Texts = Readonly<Record<string, CatalogueTexts>>;

/** The label, the help and the names of the parts of an item in a language. */
export function itemTexts(item: Item, language: string, texts: Texts = CATALOGUE_TEXTS): ItemTexts {
  const said = texts[language]?.items[item.key];
  const { answer } = item;
  const fields =
    answer.kind === 'fields'
      ? Object.fromEntries(
          Object.entries(answer.fields).map(([name, { label }]) => [name, said?.fields?.[name] ?? label]),
        )
      : undefined;
  return { label: said?.label ?? item.label, help: said?.help ?? item.help, ...(fields !== undefined && { fields }) };
}

/**
 * What an option is called: a name of its own where it has one, else the option itself, as printed names are (`DOT 4`).
 *
 * @param field part of an answer that has parts
 */
export function optionName(
  item: Item,
  field: string | undefined,
  option: string,
  language: string,
  texts: Texts = CATALOGUE_TEXTS,
): string {
  for (const options of [texts[language]?.options, texts[DEFAULT_LANGUAGE]?.options]) {
    const known =
      options?.[field === undefined ? `${item.key}:${option}` : `${item.key}.${field}:${option}`] ?? options?.[option];
    if (known !== undefined) return known;
  }
  return option;
}

function namedType(item: Item, field: string | undefined, type: SimpleAnswerType, language: string, texts: Texts) {
  if (type.kind !== 'choice' && type.kind !== 'choices') return type;
  const names = type.options.map((option) => [option, optionName(item, field, option, language, texts)] as const);
  return { ...type, names: Object.fromEntries(names.filter(([option, name]) => option !== name)) };
}

/** The type of an item's answer with its words in a language: names of options and of parts. */
export function answerIn(item: Item, language: string, texts: Texts = CATALOGUE_TEXTS): AnswerType {
  const { answer } = item;
  if (answer.kind !== 'fields') return namedType(item, undefined, answer, language, texts);
  const labels = itemTexts(item, language, texts).fields ?? {};
  const fields = Object.entries(answer.fields).map(([name, part]) => [
    name,
    { ...part, label: labels[name] ?? part.label, type: namedType(item, name, part.type, language, texts) },
  ]);
  return { kind: 'fields', fields: Object.fromEntries(fields) };
}

/** The name of an area in a language. */
export const areaName = (area: Area, language: string, texts: Texts = CATALOGUE_TEXTS): string =>
  texts[language]?.areas[area] ?? AREA_LABELS[area];

/** Where on the car in a language: `vorne links, innerer Belag`; the position as it is where there are no words. */
export function positionName(position: string, language: string, texts: Texts = CATALOGUE_TEXTS): string {
  const names = texts[language]?.positions ?? {};
  const parts = position.split('.').map((part) => names[part]);
  return parts.some((part) => part === undefined) ? position : parts.join(', ');
}
