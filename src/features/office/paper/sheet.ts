import { z } from 'zod';
import { reasonIn } from '../../../domain/clearance/reason-translation.ts';
import { GENERAL_CAUTION } from '../../../domain/cautions.ts';
import { InstantOut } from '../../../http/frame/common-schemas.ts';
import de from './text/de.json' with { type: 'json' };
import en from './text/en.json' with { type: 'json' };

/** Sheets about a whole event. */
export const EVENT_SHEETS = ['line-list', 'gate-list', 'entries', 'rescue', 'end-of-day'] as const;
export type EventSheet = (typeof EVENT_SHEETS)[number];

/** Sizes of paper: ISO 216 A4, and US Letter (ANSI/ASME Y14.1 A). */
export const PAPERS = ['a4', 'letter'] as const;
export type Paper = (typeof PAPERS)[number];

const Block = z.object({
  heading: z.string().optional().describe('Above it'),
  lines: z.array(z.string()).describe('Paragraphs before the table'),
  columns: z
    .array(
      z.object({
        heading: z.string().describe('What stands below it'),
        share: z.number().describe('Of the width, beside those of others'),
        strong: z.boolean().optional().describe('Written heavily'),
      }),
    )
    .describe('None: no table'),
  rows: z.array(z.array(z.string())).describe('Cells in the order of the columns'),
});
export type Block = z.infer<typeof Block>;

/** A sheet as it is read on paper: all words are in its language, all times those of the venue. */
export const Sheet = z
  .object({
    sheet: z.string().describe('Which one'),
    language: z.string().describe('Of its words'),
    title: z.string().describe('Title'),
    about: z.string().describe('The event and its days'),
    made: z.string().describe('When, in words'),
    madeAt: InstantOut,
    pageOf: z.string().describe('`{page}` and `{pages}` stand for numbers'),
    cautions: z.array(z.string()).describe('Belong on every page'),
    blocks: z.array(Block).describe('From top to bottom'),
  })
  .meta({ id: 'Sheet' });
export type Sheet = z.infer<typeof Sheet>;

const TEXTS: Readonly<Record<string, Readonly<Record<string, string>>>> = { en, de };

/** The words of sheets in a language. @throws where a text does not exist */
export type Say = (key: string, values?: Readonly<Record<string, string | number>>) => string;
export function sayIn(language: string): Say {
  const texts: Readonly<Record<string, string>> = TEXTS[language] ?? en;
  return (key, values = {}) => {
    const text = texts[key];
    if (text === undefined) throw new Error(`sheets have no text ${key}`);
    return text.replaceAll(/\{(\w+)\}/g, (_, name: string) => String(values[name] ?? ''));
  };
}

const INSTANT = /\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z/g;

/** How a sheet writes instants: day and time at the venue. */
export interface Times {
  at(instant: Date | string): string;
  /** a sentence of the gate in the language of the sheet, with its instants so written */
  within(sentence: string): string;
}

export function timesAt(language: string, timeZone: string): Times {
  const format = new Intl.DateTimeFormat(language === 'en' ? 'en-GB' : language, {
    timeZone,
    day: 'numeric',
    month: 'short',
    hour: '2-digit',
    minute: '2-digit',
    hour12: false,
  });
  const at = (instant: Date | string) => format.format(new Date(instant));
  return { at, within: (sentence) => reasonIn(sentence, language).replaceAll(INSTANT, at) };
}

const STRONG: ReadonlySet<string> = new Set(['number', 'answer']);

/** A table whose columns are named by their texts: `['number', 1]`. */
export function tableOf(
  say: Say,
  columns: readonly (readonly [name: string, share: number])[],
  rows: readonly (readonly string[])[],
  { heading, lines = [], empty }: { heading?: string; lines?: readonly string[]; empty?: string } = {},
): Block {
  const told = rows.length === 0 && empty !== undefined ? [...lines, empty] : [...lines];
  return {
    ...(heading === undefined ? {} : { heading }),
    lines: told,
    columns:
      rows.length === 0
        ? []
        : columns.map(([name, share]) => ({
            heading: say(`col.${name}`),
            share,
            ...(STRONG.has(name) && { strong: true }),
          })),
    rows: rows.map((row) => [...row]),
  };
}

export const SHEET_EXAMPLE: Sheet = {
  sheet: 'rescue',
  language: 'en',
  title: 'Rescue sheet: electric, hybrid and gas cars',
  about: 'Club day, 2026-06-13 to 2026-06-14',
  made: 'Printed 13 Jun, 08:30, times of Europe/Berlin',
  madeAt: '2026-06-13T06:30:00.000Z',
  pageOf: 'Page {page} of {pages}',
  cautions: [GENERAL_CAUTION],
  blocks: [
    {
      lines: [],
      columns: [
        { heading: 'Number', share: 1 },
        { heading: 'Place of the disconnect', share: 3 },
      ],
      rows: [['17', 'under the front lid']],
    },
  ],
};
