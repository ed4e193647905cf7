import { readdirSync, readFileSync } from 'node:fs';
import { parseAst } from 'vite';
import { describe, expect, test } from 'vitest';
import { defineText } from '../../../src/web/shared/text.ts';
import { doubleDenials, readingGrade } from '../../support/reading-grade.ts';

const WEB = new URL('../../../src/web/', import.meta.url);
const files = readdirSync(WEB, { recursive: true, encoding: 'utf8' });
const folders = files.filter((file) => file.endsWith('text/en.json')).map((file) => file.replace(/en\.json$/, ''));
const views = files.filter((file) => file.endsWith('.tsx'));

type Messages = Record<string, string>;
const messagesIn = (file: string) => JSON.parse(readFileSync(new URL(file, WEB), 'utf8')) as Messages;
const placesIn = (text = '') => [...text.matchAll(/\{\w+\}/g)].map(([place]) => place).toSorted();

describe.each(folders)('%s', (folder) => {
  const english = messagesIn(`${folder}en.json`);
  const german = messagesIn(`${folder}de.json`);

  test('says the same things in both languages', () => {
    expect(Object.keys(german).toSorted()).toEqual(Object.keys(english).toSorted());
    expect(Object.entries({ ...english, ...german }).filter(([, text]) => text.trim() === '')).toEqual([]);
  });

  test('has the same values in each text', () => {
    const different = Object.keys(english).filter((key) => `${placesIn(english[key])}` !== `${placesIn(german[key])}`);
    expect(different).toEqual([]);
  });
});

/** Pages that people read with a car beside them: short words, and nothing that is counted on fingers. */
const AT_THE_CAR = folders.filter((folder) => /^(?:garage|car)\//u.test(folder));

describe.each(AT_THE_CAR)('%s, read at the car', (folder) => {
  const english = messagesIn(`${folder}en.json`);
  const german = messagesIn(`${folder}de.json`);
  const filled = (text: string) => text.replaceAll(/\{\w+\}/g, 'this');

  test('is of reading grade 8 or less, taken as a whole', () => {
    const sentences = Object.values(english).filter((text) => /[.!?]$/u.test(text));
    expect(readingGrade(sentences.map(filled).join(' '))).toBeLessThanOrEqual(8);
  });

  test('denies nothing twice, and has no key, id or instant in it', () => {
    const denied = (messages: Messages, language: 'en' | 'de') =>
      Object.entries(messages).flatMap(([key, text]) => doubleDenials(text, language).map((part) => `${key}: ${part}`));
    expect([...denied(english, 'en'), ...denied(german, 'de')]).toEqual([]);
    const raw = /\b[a-z]+\.[a-z]+[.-][a-z]+\b|\b\d{4}-\d\d-\d\dT|[a-z][a-zA-Z]*[a-z][A-Z]\w*|_/u;
    const odd = Object.entries({ ...english, ...german }).filter(([, text]) => raw.test(filled(text)));
    expect(odd).toEqual([]);
  });
});

describe('the office in German', () => {
  /** What the office hands to others: it speaks to them as their own pages do. */
  const HANDED_ON = ['enrol.how', 'sheet.card', 'sheets.how.chief', 'sheets.how.inspector'];
  const said = folders
    .filter((folder) => folder.startsWith('office/'))
    .flatMap((folder) => Object.entries(messagesIn(`${folder}de.json`)));

  test('speaks to everybody in one way', () => {
    const familiar = said.filter(([, text]) => /\b(?:du|dir|dich|dein(?:e[mnrs]?)?)\b/iu.test(text));
    expect(familiar.map(([key]) => key).filter((key) => !HANDED_ON.includes(key))).toEqual([]);
    expect(said.filter(([key, text]) => HANDED_ON.includes(key) && /\b(?:Ihr|Ihnen)/u.test(text))).toEqual([]);
    expect(
      said.filter(([, text]) => /\b(?:wählen|öffnen|machen|lassen|sehen) Sie\b/iu.test(text)).length,
    ).toBeGreaterThan(5);
  });
});

/** Properties whose values are shown or spoken. */
const SPOKEN = new Set([
  'aria-label',
  'aria-description',
  'aria-roledescription',
  'alt',
  'title',
  'placeholder',
  'label',
]);
const WORD = /\p{L}{2,}/u;

/** Texts that stand in the code of a view, instead of in a file of texts. */
function wordsIn(source: string): string[] {
  const found: string[] = [];
  const take = (value: unknown) => {
    if (typeof value === 'string' && WORD.test(value)) found.push(value.trim());
  };
  const walk = (node: unknown): void => {
    if (typeof node !== 'object' || node === null) return;
    const { type, ...parts } = node as Record<string, unknown>;
    if (type === 'JSXText') take(parts['value']);
    if (type === 'JSXElement' || type === 'JSXFragment') (parts['children'] as unknown[]).forEach(takeLiteral);
    if (type === 'JSXAttribute' && SPOKEN.has(nameOf(parts['name']))) takeSpoken(parts['value']);
    for (const part of Object.values(node)) walk(part);
  };
  const takeSpoken = (node: unknown): void => {
    take((node as { value?: unknown } | null)?.value);
    takeLiteral(node);
  };
  /** `{'text'}` and a template without values */
  const takeLiteral = (node: unknown): void => {
    const { type, expression } = (node ?? {}) as { type?: string; expression?: Record<string, unknown> };
    if (type !== 'JSXExpressionContainer') return;
    if (expression?.['type'] === 'Literal') take(expression['value']);
    const quasis =
      expression?.['type'] === 'TemplateLiteral' ? (expression['quasis'] as { value: { cooked: string } }[]) : [];
    for (const quasi of quasis) take(quasi.value.cooked);
  };
  walk(parseAst(source, { lang: 'tsx' }));
  return found;
}

const nameOf = (name: unknown): string => String((name as { name?: unknown }).name);

describe('text in code', () => {
  test('is found where there is some', () => {
    expect(wordsIn('const a = <p title="Go on">Hello {x} {"there"} {`sir ${x}`}</p>;')).toEqual([
      'there',
      'sir',
      'Go on',
      'Hello',
    ]);
    expect(wordsIn('const a = <p class="row" id="content">{t("key")} · {n}</p>;')).toEqual([]);
  });

  test.each(views)('%s has none', (file) => {
    expect(wordsIn(readFileSync(new URL(file, WEB), 'utf8'))).toEqual([]);
  });
});

// Unicode Standard Annex 9: a first strong isolate (U+2068) up to its end (U+2069) leaves the order around it alone
test('a name from right to left is set apart in a sentence, any other is not', async () => {
  const messages = async () => ({ default: { said: '{who} drives car 12' } });
  const { load, t } = defineText({ en: messages, de: messages });
  await load('en');
  expect(t('said', { who: 'عمر' })).toBe('\u2068عمر\u2069 drives car 12');
  expect(t('said', { who: 'Zoë 🏁' })).toBe('Zoë 🏁 drives car 12');
});
