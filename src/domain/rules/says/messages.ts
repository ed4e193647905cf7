import { CATALOGUE } from '../../catalogue/catalogue.ts';
import { itemTexts, positionName } from '../../catalogue/texts.ts';
import type { Item } from '../../catalogue/item.ts';
import deCautions from './text/cautions.de.json' with { type: 'json' };
import de from './text/messages.de.json' with { type: 'json' };
import deSymptoms from './text/symptoms.de.json' with { type: 'json' };

/**
 * What the engine says in English, with places `{answer}`, `{position}` and `{text}`, and the same in other languages. The
 * English text is what is known of a message: findings are kept as they were written, for years.
 */
export const MESSAGES: Readonly<Record<string, Readonly<Record<string, string>>>> = {
  de: { ...de, ...deSymptoms, ...deCautions },
};

interface Pattern {
  shape: RegExp;
  names: readonly string[];
  said: string;
}

const SHAPES: Readonly<Record<string, string>> = { answer: '"[^"]+"(?:, [^;:]+?)?(?: at \\S+?)?', position: '\\S+' };

const escaped = (text: string): string => text.replaceAll(/[.*+?^${}()|[\]\\]/g, String.raw`\$&`);

function patternOf(english: string, said: string): Pattern {
  const names: string[] = [];
  const parts = english.split(/\{(\w+)\}/);
  const source = parts.map((part, index) => {
    if (index % 2 === 0) return escaped(part);
    names.push(part);
    return `(${SHAPES[part] ?? '.+?'})`;
  });
  return { shape: new RegExp(`^${source.join('')}$`, 'u'), names, said };
}

const patterns = new Map<string, readonly Pattern[]>();

function patternsOf(language: string): readonly Pattern[] {
  const made =
    patterns.get(language) ??
    Object.entries(MESSAGES[language] ?? {})
      .filter(([english]) => english.includes('{'))
      .map(([english, said]) => patternOf(english, said));
  patterns.set(language, made);
  return made;
}

const BY_LABEL: ReadonlyMap<string, Item> = new Map(CATALOGUE.map((item) => [item.label, item]));

/** `"Brake pad", Level at FL.in` in another language; the name as it is where the catalogue does not know it (any more). */
function answerIn(name: string, language: string): string {
  const [, label = '', part, position] = /^"([^"]+)"(?:, (.+?))?(?: at (\S+))?$/u.exec(name) ?? [];
  const item = BY_LABEL.get(label);
  if (item === undefined) return name;
  const words = itemTexts(item, language);
  const { answer } = item;
  const field = answer.kind === 'fields' && Object.entries(answer.fields).find(([, one]) => one.label === part)?.[0];
  const said = [`„${words.label}“`, field ? (words.fields?.[field] ?? part) : part].filter(Boolean).join(', ');
  return position === undefined ? said : `${said}, ${positionName(position, language)}`;
}

function valueIn(name: string, text: string, language: string): string {
  if (name === 'answer') return answerIn(text, language);
  return name === 'position' ? positionName(text, language) : text;
}

function oneIn(text: string, language: string): string | undefined {
  const messages = MESSAGES[language] ?? {};
  if (Object.hasOwn(messages, text)) return messages[text];
  for (const { shape, names, said } of patternsOf(language)) {
    const match = shape.exec(text);
    if (match === null) continue;
    const values = new Map(names.map((name, index) => [name, valueIn(name, match[index + 1] ?? '', language)]));
    return said.replaceAll(/\{(\w+)\}/g, (whole, name: string) => values.get(name) ?? whole);
  }
  return undefined;
}

/**
 * What the engine said, in another language; the parts of a message are parted by semicolons. A text that we do not know
 * stays as it is: it may be the organizer's own.
 */
export function messageIn(text: string, language: string): string {
  const whole = oneIn(text, language);
  if (whole !== undefined || MESSAGES[language] === undefined) return whole ?? text;
  return text
    .split('; ')
    .map((part) => oneIn(part, language) ?? part)
    .join('; ');
}
