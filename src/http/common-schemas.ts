import { z } from 'zod';

/** An id of ours: a UUID (version 7, so ids are in order of time). Read in either case, so that one id has one text. */
export const Id = z.uuid().toLowerCase().describe('UUID');
/** An instant: RFC 3339 with `Z` or an offset; stored and answered in UTC. */
export const InstantIn = z.iso.datetime({ offset: true }).describe('Instant, RFC 3339');
export const InstantOut = z.string().describe('Instant, RFC 3339 in UTC');
/** A calendar day at the venue. */
export const PlainDateIn = z.iso.date().describe('Calendar day at the venue, YYYY-MM-DD');
export const PlainDateOut = z.string().describe('Calendar day at the venue, YYYY-MM-DD');

/** Text people type: trimmed, not empty, no control characters. What the document says of it holds before trimming. */
export const line = (max: number) =>
  z
    .string()
    .max(max)
    // oxlint-disable-next-line no-control-regex -- control characters are exactly what is refused
    .regex(/^[^\u0000-\u001f\u007f]*$/, 'must not hold control characters')
    .trim()
    .min(1, 'must not be empty');

/** Text of several lines. */
export const text = (max: number) =>
  z
    .string()
    .max(max)
    // oxlint-disable-next-line no-control-regex -- control characters but tab and line breaks are refused
    .regex(/^[^\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f]*$/, 'must not hold control characters')
    .trim()
    .min(1, 'must not be empty');

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
