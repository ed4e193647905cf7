import de from './text/de.json' with { type: 'json' };
import en from './text/en.json' with { type: 'json' };

/** What entrants are written, each with a text of its own. */
export const MAIL_KINDS = [
  'link',
  'receipt',
  'reminder',
  'line-time',
  'signed',
  'hold',
  'lift',
  'voided',
  'expires',
  'wear',
  'note',
] as const;
export type MailKind = (typeof MAIL_KINDS)[number];

/** What a person orders for many; the others are written when something happens, or by the clock. */
export const ORDERED_KINDS = ['reminder', 'line-time', 'note'] as const;

export const LANGUAGES = ['en', 'de'] as const;
export type Language = (typeof LANGUAGES)[number];

/** The kind of message for something that happened; undefined: nothing is written. */
export function kindOf(happened: string): MailKind | undefined {
  return BY_ACTION[happened];
}

const BY_ACTION: Readonly<Record<string, MailKind>> = {
  'inspection.submitted': 'receipt',
  'entry.signed-off': 'signed',
  'hold.placed': 'hold',
  'hold.lifted': 'lift',
  'declaration.voided': 'voided',
  'line.told': 'line-time',
};

/** Words in braces that each kind can hold; every kind has the first ones. */
const COMMON = ['name', 'number', 'car', 'event', 'days', 'group', 'closes', 'firstSession', 'place'] as const;
const OWN: Readonly<Record<MailKind, readonly string[]>> = {
  link: ['link'],
  receipt: ['verdict', 'verdictShort', 'fixes', 'submitted'],
  reminder: [],
  'line-time': [],
  signed: ['decision', 'decisionShort', 'conditions'],
  hold: ['reason'],
  lift: ['gate'],
  voided: [],
  expires: ['until'],
  wear: ['wear'],
  note: [],
};
export const wordsIn = (kind: MailKind): readonly string[] => [...COMMON, ...OWN[kind]];

/** After which a stop by the person is heeded too: what is ordered or written by the clock. What happened to a car is told. */
export const STOPPABLE: ReadonlySet<MailKind> = new Set<MailKind>(['reminder', 'line-time', 'note', 'wear', 'expires']);

type Key = keyof typeof en;
const TEXTS: Readonly<Record<Language, Readonly<Record<Key, string>>>> = { en, de };

/** A text that comes with the server. */
export const textOf = (language: Language, key: Key): string => TEXTS[language][key];

export interface Template {
  subject: string;
  text: string;
}

export const defaultTemplate = (kind: MailKind, language: Language): Template => ({
  subject: textOf(language, `${kind}.subject`),
  text: textOf(language, `${kind}.text`),
});

const PLACE = /\{(\w+)\}/g;

/** Words in braces that no message of this kind can fill. */
export function unknownWords({ subject, text }: Template, known: readonly string[]): string[] {
  const found = [...`${subject} ${text}`.matchAll(PLACE)].map(([, word = '']) => word);
  return [...new Set(found)].filter((word) => !known.includes(word));
}

const fill = (template: string, words: Readonly<Record<string, string>>): string =>
  template.replaceAll(PLACE, (whole, word: string) => words[word] ?? whole);

const ENTITIES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};
const escape = (text: string): string => text.replaceAll(/[&<>"']/g, (sign) => ENTITIES[sign] ?? sign);

/** Plain HTML: paragraphs, lists and addresses to tap; no pictures, no styles from elsewhere, nothing that reports back. */
function htmlOf(text: string, language: Language): string {
  const paragraphs = text
    .split(/\n{2,}/)
    .filter((part) => part.trim() !== '')
    .map((part) => {
      const escaped = escape(part.trim()).replaceAll(/https?:\/\/[^\s<]+/g, (url) => `<a href="${url}">${url}</a>`);
      return `<p>${escaped.replaceAll('\n', '<br>\n')}</p>`;
    });
  return `<!doctype html>\n<html lang="${language}"><meta charset="utf-8"><body style="font-family:sans-serif;line-height:1.4;max-width:40em">\n${paragraphs.join('\n')}\n</body></html>\n`;
}

export interface Composed {
  subject: string;
  text: string;
  html: string;
}

/** A message with its words filled in, the caution and, where it can be ended, how. What is empty leaves no gap. */
export function compose(
  template: Template,
  words: Readonly<Record<string, string>>,
  { language, stop }: { language: Language; stop: string | undefined },
): Composed {
  const foot = [textOf(language, 'foot'), ...(stop === undefined ? [] : [fill(textOf(language, 'stop'), { stop })])];
  const body = fill(template.text, words)
    .replaceAll(/\n{3,}/g, '\n\n')
    .trim();
  const text = `${body}\n\n-- \n${foot.join('\n')}\n`;
  // A subject is one line, whatever was filled in.
  const subject = fill(template.subject, words).replaceAll(/\s+/g, ' ').trim().slice(0, 200);
  return { subject, text, html: htmlOf(`${body}\n\n${foot.join('\n')}`, language) };
}
