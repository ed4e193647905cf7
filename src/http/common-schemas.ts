import { z } from 'zod';

/** An id of ours: a UUID (version 7, so ids are in order of time). Read in either case, so that one id has one text. */
export const Id = z.uuid().toLowerCase().describe('UUID');
/** An instant: RFC 3339 with `Z` or an offset; stored and answered in UTC. */
export const InstantIn = z.iso.datetime({ offset: true }).describe('Instant, RFC 3339');
export const InstantOut = z.string().describe('Instant, RFC 3339 in UTC');
/** A calendar day at the venue. */
export const PlainDateIn = z.iso.date().describe('Calendar day at the venue, YYYY-MM-DD');
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

export const Page = {
  limit: z.coerce.number().int().min(1).max(200).default(50).describe('Most rows of a page, 1 to 200'),
  cursor: z.string().max(1000).optional().describe('`next` of the page before'),
};

export const eventParams = z.strictObject({ eventId: Id });
export const entryParams = z.strictObject({ entryId: Id });
