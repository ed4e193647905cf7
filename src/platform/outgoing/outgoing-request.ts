import { lookup as systemLookup } from 'node:dns/promises';
import { isIP, type LookupFunction } from 'node:net';
import { callbackify } from 'node:util';
import { Agent, request } from 'undici';
import { allowsAddress, destinationFault, type OutgoingPolicy } from './outgoing-request-policy.ts';

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
