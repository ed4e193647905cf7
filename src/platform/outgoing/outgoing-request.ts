import ipaddr from 'ipaddr.js';
import { lookup as systemLookup } from 'node:dns/promises';
import { isIP, type LookupFunction } from 'node:net';
import { callbackify } from 'node:util';
import { Agent, request } from 'undici';

type Address = ReturnType<typeof ipaddr.parse>;
type Range = ReturnType<typeof ipaddr.parseCIDR>;

/** What the configuration allows beyond the public internet. */
export interface OutgoingPolicy {
  /** host names in lower case: whatever they lead to is allowed, and they may be asked without TLS */
  hosts: ReadonlySet<string>;
  /** address ranges that are allowed under any name; an address in them may be asked without TLS when it is the host */
  ranges: readonly Range[];
}

/** Nothing but the public internet, and that by TLS only. */
export const PUBLIC_ONLY: OutgoingPolicy = { hosts: new Set(), ranges: [] };

/**
 * Never allowed, whatever the configuration says: link-local, where clouds answer with credentials, the IPv6 address
 * that does the same, site-local, multicast, broadcast and addresses that mean "here".
 */
const NEVER: readonly Range[] = [
  '169.254.0.0/16',
  '0.0.0.0/8',
  '224.0.0.0/4',
  '255.255.255.255/32',
  'fe80::/10',
  'fec0::/10',
  'ff00::/8',
  'fd00:ec2::254/128',
  '::/128',
].map((range) => ipaddr.parseCIDR(range));

/** All that is given out to the public internet (RFC 4291, RFC 3587); the library knows what in it is special. */
const GLOBAL_V6 = ipaddr.parseCIDR('2000::/3');

/** Prefixes that carry an IPv4 address, with the byte it begins at: mapped, compatible, translated, NAT64, 6to4. */
const CARRIERS: readonly (readonly [Range, number])[] = (
  [
    ['::ffff:0:0/96', 12],
    ['::/96', 12],
    ['::ffff:0:0:0/96', 12],
    ['64:ff9b::/96', 12],
    ['64:ff9b:1::/96', 12],
    ['2002::/16', 2],
  ] as const
).map(([range, at]) => [ipaddr.parseCIDR(range), at]);

const HOST = /^(?=.{1,253}$)[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?(?:\.[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?)*$/;
const PRIVATE_NAME = /(?:^|\.)(?:localhost|local|internal|intranet|lan|home|corp|home\.arpa|onion)$/;
/** From the list of bad ports in the Fetch Standard (section "Port blocking"), those that the rule below leaves. */
const BAD_PORTS = new Set([
  1719, 1720, 1723, 2049, 3659, 4045, 4190, 5060, 5061, 6000, 6566, 6665, 6666, 6667, 6668, 6669, 6679, 6697, 10_080,
]);
const FIRST_FREE_PORT = 1024;

/**
 * Reads a list of address ranges (`10.0.0.0/8`, or one address) and host names, separated by commas. Undefined when one
 * of them is neither.
 */
export function parseAllowList(text: string): OutgoingPolicy | undefined {
  const parts = text
    .split(',')
    .map((part) => part.trim().toLowerCase())
    .filter((part) => part !== '');
  const ranges = parts.map(rangeOf);
  const hosts = parts.filter((_part, index) => ranges[index] === undefined);
  // A name that ends in a number is read as an address (URL Standard, "ends in a number"), and these are none.
  if (hosts.some((host) => !HOST.test(host) || /(?:^|\.)(?:\d+|0x[\da-f]*)$/.test(host))) return undefined;
  return { hosts: new Set(hosts), ranges: ranges.filter((range) => range !== undefined) };
}

/** Whether a connection to this address is allowed for a host of this name (lower case, no brackets). */
export function allowsAddress(policy: OutgoingPolicy, address: string, host: string): boolean {
  if (!ipaddr.isValid(address)) return false;
  const parsed = ipaddr.parse(address);
  const carried = carriedIn(parsed);
  const isNever = (one: Address) => NEVER.some((range) => within(one, range));
  if (isNever(parsed) || (carried !== undefined && isNever(carried))) return false;
  if (policy.hosts.has(host)) return true;
  const isListed = (one: Address) => policy.ranges.some((range) => within(one, range));
  if (carried === undefined) return isListed(parsed) || isPublic(parsed);
  // It ends at the address it carries, so allowing the prefix around it does not open a private one.
  return isListed(carried) || (isListed(parsed) && isPublic(carried));
}

/**
 * What is wrong with an address that somebody wants requests sent to, as far as its text tells; undefined when nothing.
 * Names are not looked up here: what they lead to is checked at each connection.
 */
export function destinationFault(text: string, policy: OutgoingPolicy): string | undefined {
  if (!URL.canParse(text)) return 'is not an address';
  const url = new URL(text);
  if (url.protocol !== 'https:' && url.protocol !== 'http:') return 'must start with https://';
  if (url.username !== '' || url.password !== '') return 'must not hold a name or password';
  if (url.hash !== '') return 'must not have a fragment';
  const host = hostOf(url);
  if (url.protocol === 'http:' && !mayGoPlain(policy, host)) return 'must start with https://';
  if (!allowsPort(url)) return 'must have port 443, 80 or one from 1024 that no other protocol is known by';
  return allowsHost(policy, host) ? undefined : 'leads to an address that is not allowed';
}

/** The host of an address without brackets and without the dot of the root. */
export function hostOf(url: URL): string {
  return url.hostname
    .toLowerCase()
    .replace(/^\[(.*)\]$/, '$1')
    .replace(/\.$/, '');
}

function allowsHost(policy: OutgoingPolicy, host: string): boolean {
  if (ipaddr.isValid(host)) return allowsAddress(policy, host, host);
  if (policy.hosts.has(host)) return true;
  // A name without a dot is one of the own network.
  return host.includes('.') && !PRIVATE_NAME.test(host);
}

function mayGoPlain(policy: OutgoingPolicy, host: string): boolean {
  if (policy.hosts.has(host)) return true;
  return ipaddr.isValid(host) && policy.ranges.some((range) => within(ipaddr.parse(host), range));
}

function allowsPort(url: URL): boolean {
  if (url.port === '') return true;
  const port = Number(url.port);
  return port === 443 || port === 80 || (port >= FIRST_FREE_PORT && !BAD_PORTS.has(port));
}

function isPublic(address: Address): boolean {
  if (address.range() !== 'unicast') return false;
  return address.kind() === 'ipv4' || within(address, GLOBAL_V6);
}

function carriedIn(address: Address): Address | undefined {
  if (address.kind() === 'ipv4' || address.range() === 'loopback') return undefined;
  const [, at] = CARRIERS.find(([range]) => within(address, range)) ?? [];
  return at === undefined ? undefined : ipaddr.fromByteArray(address.toByteArray().slice(at, at + 4));
}

function within(address: Address, [network, bits]: Range): boolean {
  // The library refuses to compare the two kinds.
  return address.kind() === network.kind() && address.match(network, bits);
}

function rangeOf(text: string): Range | undefined {
  if (ipaddr.isValidCIDR(text) && (text.includes(':') || ipaddr.IPv4.isValidCIDRFourPartDecimal(text))) {
    return ipaddr.parseCIDR(text);
  }
  if (!ipaddr.IPv6.isValid(text) && !ipaddr.IPv4.isValidFourPartDecimal(text)) return undefined;
  const address = ipaddr.parse(text);
  return [address, address.kind() === 'ipv4' ? 32 : 128];
}

/** All addresses that a name leads to. */
export type Resolve = (host: string) => Promise<readonly string[]>;

export interface OutgoingRequest {
  url: string;
  headers: Readonly<Record<string, string>>;
  body: string;
}

export interface OutgoingOptions {
  policy: OutgoingPolicy;
  /** for all of it: name, connection, TLS, sending, answer; milliseconds */
  timeoutMs: number;
  /** how much of the answer is read, in bytes; the rest is not waited for */
  answerLimitBytes: number;
  /** the system's unless told */
  resolve?: Resolve | undefined;
}

/** Why there was no answer. Nothing in it tells what is at the address, or what address a name has. */
export type OutgoingFailure = 'not-allowed' | 'no-answer-in-time' | 'not-connected' | 'tls-failed' | 'broken-answer';

export type OutgoingOutcome =
  | { kind: 'answered'; status: number; answer: string; retryAfter: string | undefined }
  | { kind: 'failed'; why: OutgoingFailure };

class NotAllowedError extends Error {
  readonly code = 'NOT_ALLOWED';
}

/**
 * Posts to an address that a caller gave, and only where the policy allows.
 *
 * Every address that the name leads to is checked inside the connection's own lookup, so a name that answers
 * differently the second time gains nothing; one bad address refuses all. Redirects are an answer like any other. No
 * connection is kept, no proxy is taken from the environment.
 *
 * @throws never for what the other side does; that is an outcome
 */
export async function sendOutgoing(message: OutgoingRequest, options: OutgoingOptions): Promise<OutgoingOutcome> {
  if (destinationFault(message.url, options.policy) !== undefined) return { kind: 'failed', why: 'not-allowed' };
  const { timeoutMs } = options;
  const agent = new Agent({
    connect: { lookup: guardedLookup(options), timeout: timeoutMs, rejectUnauthorized: true, keepAlive: false },
    pipelining: 0,
    headersTimeout: timeoutMs,
    bodyTimeout: timeoutMs,
  });
  const signal = AbortSignal.timeout(timeoutMs);
  try {
    const answer = await request(message.url, {
      dispatcher: agent,
      method: 'POST',
      headers: message.headers,
      body: message.body,
      signal,
    });
    const text = await readStart(answer.body, options.answerLimitBytes);
    return {
      kind: 'answered',
      status: answer.statusCode,
      answer: text,
      retryAfter: oneOf(answer.headers['retry-after']),
    };
  } catch (error) {
    return { kind: 'failed', why: signal.aborted ? 'no-answer-in-time' : reasonOf(error) };
  } finally {
    // Also what is still on its way: nobody waits for it any more.
    await agent.destroy().catch(() => undefined);
  }
}

/** The lookup of a connection that refuses what the policy does not allow. */
export function guardedLookup({ policy, resolve }: Pick<OutgoingOptions, 'policy' | 'resolve'>): LookupFunction {
  const allowed = callbackify((host: string) => allowedAddresses(host, policy, resolve));
  return (hostname, options, callback) => {
    allowed(hostname.toLowerCase().replace(/\.$/, ''), (error, addresses) => {
      const [first] = addresses ?? [];
      if (error !== null || first === undefined) callback(new NotAllowedError('nothing that is allowed'), '', 0);
      else if (options.all === true) callback(null, addresses.map(withFamily));
      else callback(null, first, isIP(first));
    });
  };
}

/** All addresses of a name, or none: one that is not allowed spoils the others, and no name looks like a bad one. */
async function allowedAddresses(
  host: string,
  policy: OutgoingPolicy,
  resolve: Resolve = resolveBySystem,
): Promise<readonly string[]> {
  const addresses = await resolve(host);
  return addresses.every((address) => allowsAddress(policy, address, host)) ? addresses : [];
}

function withFamily(address: string): { address: string; family: number } {
  return { address, family: isIP(address) };
}

async function resolveBySystem(host: string): Promise<string[]> {
  return (await systemLookup(host, { all: true })).map(({ address }) => address);
}

/** The first bytes of an answer as text, without what a database or a terminal could not take. */
async function readStart(body: AsyncIterable<Buffer>, limit: number): Promise<string> {
  const parts: Buffer[] = [];
  let size = 0;
  for await (const part of body) {
    parts.push(part);
    size += part.length;
    if (size >= limit) break;
  }
  const text = new TextDecoder().decode(Buffer.concat(parts).subarray(0, limit));
  // oxlint-disable-next-line no-control-regex -- control characters but tab and line breaks are replaced
  return text.replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f]/g, '\ufffd');
}

function oneOf(header: string | string[] | undefined): string | undefined {
  return Array.isArray(header) ? header[0] : header;
}

function reasonOf(error: unknown): OutgoingFailure {
  const code = codeOf(error);
  if (code === 'NOT_ALLOWED') return 'not-allowed';
  if (/TIMEOUT|ETIMEDOUT/.test(code)) return 'no-answer-in-time';
  if (/^(?:ERR_TLS|ERR_SSL|CERT_|UNABLE_TO_|DEPTH_ZERO|SELF_SIGNED|EPROTO|HOSTNAME_MISMATCH)/.test(code))
    return 'tls-failed';
  if (/^(?:HTTPParserError|HPE_|UND_ERR_(?!SOCKET|CONNECT))/.test(code)) return 'broken-answer';
  return 'not-connected';
}

function codeOf(error: unknown): string {
  if (!(error instanceof Error)) return '';
  // What cannot be parsed at all has a name only.
  return 'code' in error && typeof error.code === 'string' ? error.code : error.name;
}
