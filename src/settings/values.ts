import { isIP } from 'node:net';
import { z } from 'zod';
import { parseAllowList } from '../platform/outgoing/outgoing-request.ts';

// What a value of a setting may be: each kind parses a text and says what is wrong without repeating it.

/** A whole number from `min` to `max`; `fallback` where nothing is set. */
export const number = (fallback: number, min: number, max: number) =>
  z
    .string()
    .regex(/^\d+$/, 'must be a whole number')
    .transform(Number)
    .pipe(z.number().min(min, `must be at least ${min}`).max(max, `must be at most ${max}`))
    .optional()
    .transform((value) => value ?? fallback);

/** An address of one of these protocols (`https:`), with a path where one is needed. */
export const url = (protocols: readonly string[], needsPath: boolean) =>
  z
    .string()
    .refine((text) => isUrl(text, protocols, needsPath), `must be a URL that starts with ${protocols.join(' or ')}//`)
    .optional();

/** One word of a few. */
export const oneOf = <T extends string>(values: readonly [T, ...T[]]) =>
  z.enum(values, `must be one of ${values.join(', ')}`);

/** Proxies: addresses and ranges. */
export const addressList = z
  .string()
  .transform((text) => text.split(',').map((part) => part.trim()))
  .refine((parts) => parts.every(isAddressRange), 'must be IP addresses or ranges (10.0.0.0/8), separated by commas')
  .optional()
  .transform((parts) => parts ?? []);

/** Hosts and ranges that requests may go to. */
export const allowList = z
  .string()
  .refine(
    (text) => parseAllowList(text) !== undefined,
    'must be host names or ranges (10.0.0.0/8), separated by commas',
  )
  .transform((text) => text.split(',').map((part) => part.trim()))
  .optional()
  .transform((parts) => parts ?? []);

/** Origins as browsers name them (RFC 6454): scheme, host and port, and nothing after it. */
export const originList = z
  .string()
  .transform((text) => text.split(',').map((part) => part.trim()))
  .refine(
    (parts) => parts.every((part) => /^https?:\/\//.test(part) && URL.canParse(part) && new URL(part).origin === part),
    'must be origins (https://results.example.org) without a path, separated by commas',
  )
  .optional()
  .transform((parts) => parts ?? []);

/** A text for a header: a token, a key, a name. */
export const printable = z.string().regex(/^[\x21-\x7e]+$/, 'must be printable ASCII without spaces');

/** A bucket and a prefix without slashes at its ends. */
export const BUCKET = /^s3:\/\/([a-z0-9][a-z0-9.-]{1,61}[a-z0-9])(?:\/([0-9A-Za-z_-]+(?:\/[0-9A-Za-z_-]+)*))?\/?$/;
/** A place in an object store. */
export const bucketUrl = z
  .string()
  .regex(BUCKET, 'must be s3://bucket or s3://bucket/prefix, of letters, digits, hyphens and underscores')
  .optional();

/** A folder by its whole path, or a place in an object store. A relative folder would move with where a start was made. */
export const backupPlace = z
  .string()
  .refine(
    (text) => text.startsWith('/') || BUCKET.test(text),
    'must be the whole path of a folder, or s3://bucket/prefix',
  )
  .optional();

/** Names that the HTTP layer knows for address ranges of its own network. */
const PROXY_NAMES = new Set(['loopback', 'linklocal', 'uniquelocal']);

/** Whether a text is an address of one of these protocols (`https:`), with a path where one is needed. */
function isUrl(text: string, protocols: readonly string[], needsPath: boolean): boolean {
  if (!URL.canParse(text)) return false;
  const parsed = new URL(text);
  return protocols.includes(parsed.protocol) && parsed.host !== '' && (!needsPath || parsed.pathname.length > 1);
}

/** Whether an address has no name, password, query or fragment; what is no address at all is judged elsewhere. */
export function isBareAddress(text: string | undefined): boolean {
  if (text === undefined || !URL.canParse(text)) return true;
  const { username, password, search, hash } = new URL(text);
  return username + password + search + hash === '';
}

/** Whether a text is an IP address, a range of them (`10.0.0.0/8`), or a name that the HTTP layer has for one. */
function isAddressRange(text: string): boolean {
  if (PROXY_NAMES.has(text)) return true;
  const [address = '', bits, ...rest] = text.split('/');
  const version = isIP(address);
  if (version === 0 || rest.length > 0) return false;
  return bits === undefined || (/^\d{1,3}$/.test(bits) && Number(bits) <= (version === 4 ? 32 : 128));
}

/** An address for mail, alone or with a name: one line, one address. */
export const mailbox = z
  .string()
  .max(300)
  .regex(
    /^(?:[^<>@,;\r\n"]*<[^\s<>@,;"]+@[^\s<>@,;"]+>|[^\s<>@,;"]+@[^\s<>@,;"]+)$/,
    'must be an address, or a name with an address in < >',
  );

/** Hosts that are this machine itself: what is sent there in the clear is seen by nobody else. */
const OWN_MACHINE = new Set(['localhost', '127.0.0.1', '[::1]']);

/** Whether what is sent to an address cannot be read on the way. */
export function isPrivateWay(text: string): boolean {
  const { protocol, hostname } = new URL(text);
  return protocol === 'https:' || OWN_MACHINE.has(hostname);
}

/** A provider of accounts: by https, because whoever sits between could be anybody of the staff. */
export const issuer = url(['http:', 'https:'], false)
  .refine((text) => isBareAddress(text), 'must have no name, password, query or fragment in it')
  .refine((text) => text === undefined || !URL.canParse(text) || isPrivateWay(text), 'must start with https://');

/** Values of a claim, compared letter by letter. */
export const valueList = z
  .string()
  .transform((text) => text.split(',').map((part) => part.trim()))
  .refine((parts) => parts.every((part) => part !== ''), 'must be values separated by commas')
  .optional()
  .transform((parts) => parts ?? []);
