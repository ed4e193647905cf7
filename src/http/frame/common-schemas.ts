import { z } from 'zod';
import { PRINTED_FORMS } from '../../domain/catalogue/item.ts';

/** Faults that are listed; what is more is counted. */
export const MAX_LISTED = 100;
const MAX_POINTER = 200;
const MAX_DETAIL = 400;

/** A text for a message, cut where it is too long for one. */
export function cutText(text: string, most: number): string {
  if (text.length <= most) return text;
  // Half of a surrogate pair is no character.
  return `${text.slice(0, most).replace(/[\uD800-\uDBFF]$/, '')}…`;
}

/** The first of many faults, each short enough for a message, and how many more there are. */
export function listFaults<T extends { pointer: string; detail: string }>(
  faults: readonly T[],
): { listed: T[]; more: number } {
  const listed = faults.slice(0, MAX_LISTED).map((fault) => ({
    ...fault,
    pointer: cutText(fault.pointer, MAX_POINTER),
    detail: cutText(fault.detail, MAX_DETAIL),
  }));
  return { listed, more: faults.length - listed.length };
}

/** An id of ours: a UUID (version 7, so ids are in order of time). Read in either case, so that one id has one text. */
export const Id = z.uuid().toLowerCase().describe('UUID');
/** An instant: RFC 3339 with `Z` or an offset; stored and answered in UTC. */
export const InstantIn = z.iso.datetime({ offset: true }).describe('Instant, RFC 3339');
export const InstantOut = z.string().describe('Instant, RFC 3339 in UTC');
/** A calendar day at the venue. */
export const PlainDateIn = z.iso.date().describe('Calendar day at the venue, YYYY-MM-DD');

// Typing errors in a year are common, and a year that the database cannot store must not get that far.
const isPlausible = (text: string) => /^20\d\d-/.test(text);
const YEARS = 'must lie in the years 2000 to 2099';

/** A day that somebody plans for. */
export const PlannedDay = PlainDateIn.refine(isPlausible, YEARS);
/** An instant that somebody plans for. */
export const PlannedInstant = InstantIn.refine(isPlausible, YEARS);

export const PlainDateOut = z.string().describe('Calendar day at the venue, YYYY-MM-DD');

// Control characters (C0, DEL, C1), line separators, and what turns the direction of the text around it.
// oxlint-disable-next-line no-control-regex -- control characters are exactly what is refused
const LINE = /^[^\u0000-\u001f\u007f-\u009f\u2028-\u202e\u2066-\u2069]*$/;
// The same but tab and line breaks.
// oxlint-disable-next-line no-control-regex -- as above
const TEXT = /^[^\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u2028-\u202e\u2066-\u2069]*$/;
const NO_CONTROLS = 'must not hold control characters, nor characters that turn the direction of text';
/** What leaves no ink: spaces, invisible and default-ignorable characters, marks with nothing under them, blank Braille. */
const INVISIBLE = /[\p{Z}\p{C}\p{M}\p{Default_Ignorable_Code_Point}\u2800]/gu;

const isVisible = (value: string): boolean => value.replace(INVISIBLE, '') !== '';

const typed = (max: number, allowed: RegExp) =>
  z
    .string()
    // Nothing else is looked at in a text that is too long.
    .max(max, { abort: true })
    .regex(allowed, NO_CONTROLS)
    .trim()
    .min(1, 'must not be empty')
    .refine((value) => value === '' || isVisible(value), 'must hold a character that can be seen');

/** Text people type: trimmed, something to see, no control characters. What the document says of it holds before trimming. */
export const line = (max: number) => typed(max, LINE);

/** What a program writes for bytes that it could not read (U+FFFD): the letters that stood there are lost already. */
export const isDecodedWrongly = (value: string): boolean => value.includes('\uFFFD');
export const DECODED_WRONGLY =
  'holds \uFFFD: letters were lost when the text was read in a wrong encoding. Send the original file, or type it again';

/** A name of somebody or something. Text whose letters were lost is refused: nobody could bring them back later. */
export const named = (max: number) => line(max).refine((value) => !isDecodedWrongly(value), DECODED_WRONGLY);

/** Text of several lines. */
export const text = (max: number) => typed(max, TEXT);

/** A car number: exact text, `7` and `07` are two cars. */
export const CarNumber = z
  .string()
  .regex(/^[0-9A-Za-z]{1,4}$/, '1 to 4 letters or digits')
  .describe('Exact text of 1 to 4 letters or digits; `7`, `07` and `007` are three cars');

export const IfMatch = z.looseObject({
  'if-match': z.string().optional().describe('ETag of the version the change starts from; `*` for any'),
});

export const IdempotencyKey = z.looseObject({
  'idempotency-key': z.string().optional().describe('A new UUID for each new request; the same again for a repeat'),
});

/** Where a request without a key is taken too: a repeat of it is another request. */
export const OptionalIdempotencyKey = z.looseObject({
  'idempotency-key': z.string().optional().describe('A repeat with the same key and body gets the first answer'),
});

export const Page = {
  limit: z.coerce.number().int().min(1).max(200).default(50).describe('Most rows of a page, 1 to 200'),
  cursor: z.string().max(1000).optional().describe('`next` of the page before'),
};

export const eventParams = z.strictObject({ eventId: Id });
export const entryParams = z.strictObject({ entryId: Id });

const Options = z.array(z.string()).describe('The answers to choose from');

const OptionNames = z
  .record(z.string(), z.string())
  .optional()
  .describe('What people read for the options; one that is not named is printed as it is');
const SimpleAnswer = [
  z.object({
    kind: z.literal('number'),
    unit: z.string().describe('Unit of a bare number; other units of its dimension are converted'),
    min: z.number().describe('Impossible below this, in `unit`'),
    max: z.number().describe('Impossible above this, in `unit`'),
    decimals: z.number().describe('Decimals that are kept'),
    plausible: z
      .array(z.number())
      .length(2)
      .optional()
      .describe('Usual values, from and to: outside, the line measures'),
    uncertainty: z
      .object({
        expanded: z.number().describe('Expanded uncertainty U (k = 2), in `unit`'),
        instrument: z.string().describe('What it is usually read with'),
        source: z.string().describe('Where the number comes from'),
      })
      .optional()
      .describe('How far a reading may be from the truth'),
  }),
  z.object({ kind: z.literal('choice'), options: Options, names: OptionNames }).describe('One of the options'),
  z.object({ kind: z.literal('choices'), options: Options, names: OptionNames }).describe('Any number of the options'),
  z.object({ kind: z.literal('confirm') }).describe('`true`: seen and in order'),
  z.object({ kind: z.literal('yes-no') }).describe('`true` or `false`'),
  z.object({ kind: z.literal('date') }).describe('Calendar day, YYYY-MM-DD'),
  z.object({
    kind: z.literal('text'),
    maxLength: z.number().describe('Most characters'),
    pattern: z
      .object({
        source: z.string().describe('Regular expression that must match all of it'),
        says: z.string().describe('The same in words'),
      })
      .optional()
      .describe('Form of the text'),
    asPrinted: z
      .enum(PRINTED_FORMS)
      .optional()
      .describe('Copied from a label or sidewall: spellings of one thing are kept in one form'),
  }),
] as const;

/** What an answer to a catalogue item may be, as the API shows it; mirrors `AnswerType` of the catalogue. */
export const AnswerTypeView = z
  .discriminatedUnion('kind', [
    ...SimpleAnswer,
    z.object({
      kind: z.literal('fields'),
      fields: z
        .record(
          z.string(),
          z.object({
            type: z.discriminatedUnion('kind', [...SimpleAnswer]).describe('What this part may be'),
            required: z.boolean().describe('Whether it must be given with the others'),
            label: z.string().describe('What it is'),
          }),
        )
        .describe('The named parts'),
    }),
  ])
  .describe('What an answer may be')
  .meta({ id: 'AnswerType' });

/** Letters, digits and a few marks, so that it can stand in a file and be read out. */
export const PersonId = z
  .string()
  .trim()
  .regex(/^[0-9A-Za-zÀ-ÖØ-öø-ÿ][0-9A-Za-zÀ-ÖØ-öø-ÿ._/-]{0,39}$/, '1 to 40 letters, digits, and . _ / - after the first')
  .describe("The person's id in a list of the organizer's own, such as a licence number: the same person, the same id");
