import { closeSync, openSync, readSync } from 'node:fs';
import { z } from 'zod';
import {
  addressList,
  allowList,
  backupPlace,
  bucketUrl,
  isBareAddress,
  issuer,
  mailbox,
  number,
  oneOf,
  originList,
  printable,
  url,
  valueList,
} from './values.ts';

/** How much is logged, least first. */
export const LOG_LEVELS = ['fatal', 'error', 'warn', 'info', 'debug', 'trace', 'silent'] as const;

/** The keys that the server reads from its environment, each with its meaning. Other keys are ignored. */
export const Environment = z.object({
  DATABASE_URL: url(['postgres:', 'postgresql:'], true).describe('PostgreSQL; absent: embedded, in DATA_DIR'),
  DATABASE_PASSWORD: printable.optional().describe('password for DATABASE_URL, where that has none'),
  NEWER_DATABASE: oneOf(['refuse', 'allow'])
    .default('refuse')
    .describe('what a start does with a database of a later version that took nothing away'),
  REDIS_URL: url(['redis:', 'rediss:'], false).describe(
    'Redis for the job queue; absent: the queue runs on PostgreSQL',
  ),
  REDIS_PASSWORD: printable.optional().describe('password for REDIS_URL, where that has none'),
  ROLE: oneOf(['api', 'worker']).optional().describe('api or worker; absent: both in one process'),
  PORT: number(8080, 0, 65_535).describe('TCP port of the API; 0 lets the system choose'),
  WORKER_PORT: number(0, 1, 65_535)
    .transform((port) => port || undefined)
    .describe('TCP port on which a worker (ROLE=worker) says how it is; absent: none'),
  HOST: z.string().default('127.0.0.1').describe('address to listen on'),
  LOG_LEVEL: oneOf(LOG_LEVELS).default('info').describe('least important level that is logged'),
  LOG_REQUESTS: oneOf(['yes', 'no']).optional().describe('a line for each request; absent: yes, except on a terminal'),
  DATA_DIR: z.string().default('.data').describe('folder of the embedded database and other files'),
  WEB_DIR: z.string().optional().describe('folder of the built pages; absent: where the build puts them'),
  ORGANIZER_TOKEN: printable
    .min(20, 'must have at least 20 characters')
    .max(200, 'must have at most 200 characters')
    .optional()
    .describe('first organizer token; absent: one is made and printed once'),
  PUBLIC_URL: url(['http:', 'https:'], false).describe('address that people use, for links'),
  CLAIM_LEASE_MINUTES: number(15, 1, 240).describe('how long an inspector holds a ticket without renewing'),
  POOL_SIZE: number(10, 2, 80).describe('database connections of one process'),
  OUTBOX_POLL_MS: number(1000, 50, 60_000).describe('how often the outbox is looked at when no signal came'),
  TRUST_PROXY: addressList.describe('proxies whose X-Forwarded headers are believed'),
  SHUTDOWN_SECONDS: number(20, 1, 300).describe('time that a stop may take before the process exits anyway'),
  BODY_LIMIT_KB: number(512, 1, 65_536).describe('largest request body'),
  PHOTO_STORE: bucketUrl.describe('s3://bucket/prefix for photos; absent: a folder in DATA_DIR'),
  S3_ENDPOINT: url(['http:', 'https:'], false)
    .refine((text) => isBareAddress(text), 'must have no name, password, query or fragment in it')
    .describe('address of the object store of PHOTO_STORE'),
  S3_REGION: z
    .string()
    .regex(/^[0-9A-Za-z-]{1,40}$/, 'must be letters, digits and hyphens')
    .default('us-east-1')
    .describe('region that requests to it are signed for'),
  S3_ACCESS_KEY_ID: printable.optional().describe('who stores photos there'),
  S3_SECRET_ACCESS_KEY: printable.optional().describe('proves it'),
  BACKUP_TO: backupPlace.describe('where backups go: a folder, or s3://bucket/prefix; absent: none are made'),
  BACKUP_EVERY_HOURS: number(24, 0, 168).describe('how often a worker makes one; 0: never by itself'),
  BACKUP_KEEP: number(14, 2, 1000).describe('how many are kept'),
  BACKUP_PASSPHRASE: z
    .string()
    .min(12, 'must have at least 12 characters')
    .max(200, 'must have at most 200 characters')
    .optional()
    .describe('encrypts every backup; without it none can be read'),
  PHOTO_LIMIT_KB: number(12_288, 1, 65_536).describe('largest photo as it is sent'),
  PHOTO_MEGAPIXELS: number(50, 1, 250).describe('largest photo in million pixels'),
  PHOTOS_PER_ENTRY: number(60, 1, 1000).describe('photos that one entry may have'),
  RATE_LIMIT_PER_MINUTE: number(600, 1, 1_000_000).describe('requests a minute for one caller'),
  MAX_LOOP_DELAY_MS: number(1000, 0, 60_000).describe(
    'event loop delay beyond which only gate, stops and health answer',
  ),
  MAX_HEAP_MB: number(0, 0, 1_000_000)
    .transform((value) => value || undefined)
    .describe('heap beyond which only gate, stops and health answer; absent: 85 % of what Node.js may use'),
  MAX_WAIT_MS: number(2000, 0, 60_000).describe(
    'wait for a database connection beyond which only gate, stops and health answer',
  ),
  GATE_SNAPSHOT_HOURS: number(12, 1, 72).describe('how long a gate without a network may use its list'),
  MAIL: oneOf(['off', 'keep', 'send'])
    .optional()
    .describe(
      'messages to entrants: off, keep (only to be read in the office) or send; absent: send where SMTP_URL is set',
    ),
  SMTP_URL: url(['smtp:', 'smtps:'], false).describe(
    'server that takes mail; smtp: demands STARTTLS, smtps: begins with TLS',
  ),
  SMTP_PLAIN: oneOf(['refuse', 'allow'])
    .default('refuse')
    .describe('mail in the clear, for a relay on the same machine'),
  SMTP_USER: printable.optional().describe('who sends mail there'),
  SMTP_PASSWORD: printable.optional().describe('proves it'),
  MAIL_FROM: mailbox.optional().describe('who mail is from: an address, or Name <address>; required to send'),
  MAIL_REPLY_TO: mailbox.optional().describe('where answers and later refusals go; absent: to MAIL_FROM'),
  MAIL_LANGUAGE: oneOf(['en', 'de']).default('en').describe('language of messages to entrants who have named none'),
  MAIL_PER_MINUTE: number(30, 1, 10_000).describe('most messages a minute'),
  WEBHOOK_ALLOW: allowList.describe('private hosts and address ranges that webhooks may go to, also without TLS'),
  STREAMS_PER_TOKEN: number(10, 1, 1000).describe('live streams that one token may have open at once'),
  STREAMS_PER_PROCESS: number(500, 1, 100_000).describe('live streams that one process serves at once'),
  CORS_ORIGINS: originList.describe('origins whose pages may call the API from a browser'),
  METRICS_TOKEN: printable
    .min(20, 'must have at least 20 characters')
    .optional()
    .describe('token that reads /metrics and nothing else; absent: an organizer token is needed'),
  OIDC_ISSUER: issuer.describe('provider of accounts that the office signs in with; absent: only tokens and codes'),
  OIDC_CLIENT_ID: printable.optional().describe('what this server is called there'),
  OIDC_CLIENT_SECRET: printable.optional().describe('proves it; absent: a public client, protected by PKCE alone'),
  OIDC_NAME: z.string().max(60).optional().describe('what people call the account, on the button'),
  OIDC_SCOPE: z
    .string()
    .regex(/^openid(?: [\x21-\x7e]+)*$/, 'must begin with openid')
    .default('openid profile email')
    .describe('what is asked of the provider'),
  OIDC_CLAIM: printable.default('groups').describe('claim that says who is what'),
  OIDC_ORGANIZERS: valueList.describe('its values for organizers'),
  OIDC_CHIEFS: valueList.describe('its values for chief inspectors, of all events that are not over'),
  OIDC_HOURS: number(12, 1, 72).describe('how long a sign-in is good for'),
  OTEL_SDK_DISABLED: oneOf(['true', 'false'])
    .default('false')
    .describe('true: neither traces nor metrics are exported'),
  OTEL_EXPORTER_OTLP_ENDPOINT: url(['http:', 'https:'], false).describe(
    'collector for traces and metrics (OTLP over HTTP); absent: nothing is exported',
  ),
  OTEL_EXPORTER_OTLP_TRACES_ENDPOINT: url(['http:', 'https:'], false).describe('whole address for traces'),
  OTEL_EXPORTER_OTLP_METRICS_ENDPOINT: url(['http:', 'https:'], false).describe('whole address for metrics'),
  OTEL_EXPORTER_OTLP_PROTOCOL: oneOf(['http/protobuf'])
    .default('http/protobuf')
    .describe('the one that this server speaks'),
  OTEL_TRACES_EXPORTER: oneOf(['otlp', 'none']).default('otlp').describe('none: no traces'),
  OTEL_METRICS_EXPORTER: oneOf(['otlp', 'none']).default('otlp').describe('none: no metrics'),
  OTEL_METRIC_EXPORT_INTERVAL: number(60_000, 1000, 3_600_000).describe('how often metrics are sent, milliseconds'),
  SECURITY_CONTACT: z
    .string()
    .regex(/^(?:mailto|https|tel):[\x21-\x7e]+$/, 'must be an address that starts with mailto:, https: or tel:')
    .optional()
    .describe('whom to tell of a weakness, for security.txt'),
});

/**
 * Settings that are secrets. Each may stand in a file instead, which `<KEY>_FILE` names: an environment shows in process
 * lists, crash reports and the descriptions of containers, a file only to whom it is given.
 */
export const SECRETS = [
  'DATABASE_URL',
  'DATABASE_PASSWORD',
  'REDIS_URL',
  'REDIS_PASSWORD',
  'ORGANIZER_TOKEN',
  'METRICS_TOKEN',
  'S3_ACCESS_KEY_ID',
  'S3_SECRET_ACCESS_KEY',
  'BACKUP_PASSPHRASE',
  'SMTP_PASSWORD',
  'OIDC_CLIENT_SECRET',
] as const;

/** More than any secret has: what is larger is another file. */
const MAX_BYTES = 16 * 1024;

interface Given {
  given: Record<string, string>;
  problems: string[];
}

/**
 * The settings that are not empty, with the secrets of files under their own keys. Line ends after a secret do not count:
 * editors and `echo` leave one. A file that is named and cannot give a secret is a problem and never a default, or a
 * server would go on without what protects it. Problems name the file, never what is in it.
 */
export function readSecretFiles(env: Record<string, string | undefined>): Given {
  const given: Record<string, string> = {};
  for (const [key, value] of Object.entries(env)) if (value !== undefined && value !== '') given[key] = value;
  const problems: string[] = [];
  for (const key of SECRETS) {
    const path = given[`${key}_FILE`];
    if (path === undefined) continue;
    if (given[key] !== undefined) problems.push(`${key}_FILE: ${key} is set as well; keep one of the two`);
    else readInto(given, key, path, problems);
  }
  return { given, problems };
}

function readInto(given: Record<string, string>, key: string, path: string, problems: string[]): void {
  try {
    const text = readSmall(path).replace(/[\r\n]+$/, '');
    if (text === '') problems.push(`${key}_FILE: ${path} is empty`);
    else given[key] = text;
  } catch (error) {
    const why = error instanceof Error && 'code' in error ? String(error.code) : String(error);
    problems.push(`${key}_FILE: ${path} cannot be read (${why})`);
  }
}

/** Reads so much and no more: somebody may name a device that never ends. */
function readSmall(path: string): string {
  const file = openSync(path, 'r');
  try {
    const buffer = Buffer.alloc(MAX_BYTES + 1);
    const length = readSync(file, buffer, 0, buffer.length, null);
    if (length > MAX_BYTES) throw Object.assign(new Error('too long'), { code: 'more than 16 kB' });
    return buffer.toString('utf8', 0, length);
  } finally {
    closeSync(file);
  }
}

/** An address with this password in it; what has none given stays as it is. */
export function withPassword(address: string | undefined, password: string | undefined): string | undefined {
  if (address === undefined || password === undefined) return address;
  const parsed = new URL(address);
  // The setter leaves some characters that mean something in a password as they are.
  parsed.password = encodeURIComponent(password);
  return parsed.href;
}
