import { z } from 'zod';
import { parseAllowList } from './platform/outgoing/outgoing-request-policy.ts';
import { isAddressRange, isBareAddress, isUrl } from './config-addresses.ts';

const LOG_LEVELS = ['fatal', 'error', 'warn', 'info', 'debug', 'trace', 'silent'] as const;

/**
 * Settings of one process, parsed once at start. Minutes, seconds, milliseconds and kilobytes are in the names.
 * `databaseUrl` absent means: start the embedded database in `dataDir`. `redisUrl` absent: the queue runs on PostgreSQL.
 */
export type Config = {
  databaseUrl: string | undefined;
  redisUrl: string | undefined;
  role: 'api' | 'worker' | 'both';
  port: number;
  host: string;
  logLevel: (typeof LOG_LEVELS)[number];
  /** absent: yes, except on a terminal */
  logRequests: boolean | undefined;
  dataDir: string;
  /** folder of the built pages; absent: where `npm run build` puts them */
  webDir: string | undefined;
  organizerToken: string | undefined;
  publicUrl: string | undefined;
  claimLeaseMinutes: number;
  poolSize: number;
  outboxPollMs: number;
  trustProxy: string[];
  shutdownSeconds: number;
  bodyLimitKb: number;
  /** absent: a folder in `dataDir` */
  photoBucket: PhotoBucket | undefined;
  photoLimitKb: number;
  photoMegapixels: number;
  photosPerEntry: number;
  rateLimitPerMinute: number;
  /** 0: no limit */
  maxLoopDelayMs: number;
  /** absent: most of what Node.js may use */
  maxHeapMb: number | undefined;
  /** 0: no limit */
  maxWaitMs: number;
  gateSnapshotHours: number;
  /** address ranges and host names beyond the public internet that webhooks may go to */
  webhookAllow: string[];
  streamsPerToken: number;
  streamsPerProcess: number;
  /** absent: only organizer tokens read the metrics */
  metricsToken: string | undefined;
  /** whom to tell of a weakness: `mailto:`, `https:` or `tel:`; absent: there is no security.txt */
  securityContact: string | undefined;
};

/** An S3-compatible object store for photos; `prefix` has no slash at its ends. */
export type PhotoBucket = {
  endpoint: string;
  region: string;
  bucket: string;
  prefix: string;
  accessKeyId: string;
  secretAccessKey: string;
};

/** Thrown by `loadConfig`; `problems` has one `KEY: what is wrong` per bad key, values are never repeated. */
export class ConfigError extends Error {
  readonly problems: readonly string[];

  constructor(problems: readonly string[]) {
    super(`Bad configuration:\n${problems.map((problem) => `  ${problem}`).join('\n')}`);
    this.name = 'ConfigError';
    this.problems = problems;
  }
}

const number = (fallback: number, min: number, max: number) =>
  z
    .string()
    .regex(/^\d+$/, 'must be a whole number')
    .transform(Number)
    .pipe(z.number().min(min, `must be at least ${min}`).max(max, `must be at most ${max}`))
    .optional()
    .transform((value) => value ?? fallback);

const url = (protocols: readonly string[], needsPath: boolean) =>
  z
    .string()
    .refine((text) => isUrl(text, protocols, needsPath), `must be a URL that starts with ${protocols.join(' or ')}//`)
    .optional();

const oneOf = <T extends string>(values: readonly [T, ...T[]]) => z.enum(values, `must be one of ${values.join(', ')}`);

const addressList = z
  .string()
  .transform((text) => text.split(',').map((part) => part.trim()))
  .refine((parts) => parts.every(isAddressRange), 'must be IP addresses or ranges (10.0.0.0/8), separated by commas')
  .optional()
  .transform((parts) => parts ?? []);

const allowList = z
  .string()
  .refine(
    (text) => parseAllowList(text) !== undefined,
    'must be host names or ranges (10.0.0.0/8), separated by commas',
  )
  .transform((text) => text.split(',').map((part) => part.trim()))
  .optional()
  .transform((parts) => parts ?? []);

const printable = z.string().regex(/^[\x21-\x7e]+$/, 'must be printable ASCII without spaces');

const BUCKET = /^s3:\/\/([a-z0-9][a-z0-9.-]{1,61}[a-z0-9])(?:\/([0-9A-Za-z_-]+(?:\/[0-9A-Za-z_-]+)*))?\/?$/;
const bucketUrl = z
  .string()
  .regex(BUCKET, 'must be s3://bucket or s3://bucket/prefix, of letters, digits, hyphens and underscores')
  .optional();

/** The keys that the server reads from its environment, each with its meaning. Other keys are ignored. */
export const Environment = z.object({
  DATABASE_URL: url(['postgres:', 'postgresql:'], true).describe('PostgreSQL; absent: embedded, in DATA_DIR'),
  REDIS_URL: url(['redis:', 'rediss:'], false).describe(
    'Redis for the job queue; absent: the queue runs on PostgreSQL',
  ),
  ROLE: oneOf(['api', 'worker']).optional().describe('api or worker; absent: both in one process'),
  PORT: number(8080, 0, 65_535).describe('TCP port of the API; 0 lets the system choose'),
  HOST: z.string().default('127.0.0.1').describe('address to listen on'),
  LOG_LEVEL: oneOf(LOG_LEVELS).default('info').describe('least important level that is logged'),
  LOG_REQUESTS: oneOf(['yes', 'no']).optional().describe('a line for each request; absent: yes, except on a terminal'),
  DATA_DIR: z.string().default('.data').describe('folder of the embedded database and other files'),
  WEB_DIR: z.string().optional().describe('folder of the built pages; absent: where the build puts them'),
  ORGANIZER_TOKEN: z
    .string()
    .regex(/^[\x21-\x7e]+$/, 'must be printable ASCII without spaces')
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
  WEBHOOK_ALLOW: allowList.describe('private hosts and address ranges that webhooks may go to, also without TLS'),
  STREAMS_PER_TOKEN: number(10, 1, 1000).describe('live streams that one token may have open at once'),
  STREAMS_PER_PROCESS: number(500, 1, 100_000).describe('live streams that one process serves at once'),
  METRICS_TOKEN: z
    .string()
    .regex(/^[\x21-\x7e]+$/, 'must be printable ASCII without spaces')
    .min(20, 'must have at least 20 characters')
    .optional()
    .describe('token that reads /metrics and nothing else; absent: an organizer token is needed'),
  SECURITY_CONTACT: z
    .string()
    .regex(/^(?:mailto|https|tel):[\x21-\x7e]+$/, 'must be an address that starts with mailto:, https: or tel:')
    .optional()
    .describe('whom to tell of a weakness, for security.txt'),
});

/**
 * Parses the environment; the empty string counts as absent.
 *
 * With `ROLE` set, `DATABASE_URL` is required: an embedded database belongs to the one process that started it.
 *
 * @throws ConfigError naming every bad key
 */
export function loadConfig(env: Record<string, string | undefined>): Config {
  const given = Object.fromEntries(Object.entries(env).filter(([, value]) => value !== undefined && value !== ''));
  const parsed = Environment.safeParse(given);
  const problems = parsed.success ? [] : describeIssues(parsed.error.issues);
  if ((given['ROLE'] === 'api' || given['ROLE'] === 'worker') && given['DATABASE_URL'] === undefined) {
    problems.push('DATABASE_URL: is required when ROLE is set, because an embedded database belongs to one process');
  }
  problems.push(...missingForBucket(given));
  if (!parsed.success || problems.length > 0) throw new ConfigError(problems);
  return toConfig(parsed.data);
}

/** The settings as log fields: passwords in URLs and the organizer token are replaced, everything else is as is. */
export function loggableConfig(config: Config): Record<string, unknown> {
  return {
    ...config,
    databaseUrl: hidePassword(config.databaseUrl),
    redisUrl: hidePassword(config.redisUrl),
    organizerToken: config.organizerToken === undefined ? undefined : '[set]',
    metricsToken: config.metricsToken === undefined ? undefined : '[set]',
    photoBucket: config.photoBucket && { ...config.photoBucket, accessKeyId: '[set]', secretAccessKey: '[set]' },
  };
}

function toConfig(env: z.infer<typeof Environment>): Config {
  return {
    databaseUrl: env.DATABASE_URL,
    redisUrl: env.REDIS_URL,
    role: env.ROLE ?? 'both',
    port: env.PORT,
    host: env.HOST,
    logLevel: env.LOG_LEVEL,
    logRequests: env.LOG_REQUESTS === undefined ? undefined : env.LOG_REQUESTS === 'yes',
    dataDir: env.DATA_DIR,
    webDir: env.WEB_DIR,
    organizerToken: env.ORGANIZER_TOKEN,
    publicUrl: env.PUBLIC_URL?.replace(/\/+$/, ''),
    claimLeaseMinutes: env.CLAIM_LEASE_MINUTES,
    poolSize: env.POOL_SIZE,
    outboxPollMs: env.OUTBOX_POLL_MS,
    trustProxy: env.TRUST_PROXY,
    shutdownSeconds: env.SHUTDOWN_SECONDS,
    bodyLimitKb: env.BODY_LIMIT_KB,
    photoBucket: toBucket(env),
    photoLimitKb: env.PHOTO_LIMIT_KB,
    photoMegapixels: env.PHOTO_MEGAPIXELS,
    photosPerEntry: env.PHOTOS_PER_ENTRY,
    rateLimitPerMinute: env.RATE_LIMIT_PER_MINUTE,
    maxLoopDelayMs: env.MAX_LOOP_DELAY_MS,
    maxHeapMb: env.MAX_HEAP_MB,
    maxWaitMs: env.MAX_WAIT_MS,
    gateSnapshotHours: env.GATE_SNAPSHOT_HOURS,
    webhookAllow: env.WEBHOOK_ALLOW,
    streamsPerToken: env.STREAMS_PER_TOKEN,
    streamsPerProcess: env.STREAMS_PER_PROCESS,
    metricsToken: env.METRICS_TOKEN,
    securityContact: env.SECURITY_CONTACT,
  };
}

const BUCKET_NEEDS = ['S3_ENDPOINT', 'S3_ACCESS_KEY_ID', 'S3_SECRET_ACCESS_KEY'] as const;

function missingForBucket(given: Record<string, string | undefined>): string[] {
  if (given['PHOTO_STORE'] === undefined) return [];
  const missing = BUCKET_NEEDS.filter((key) => given[key] === undefined);
  return missing.map((key) => `${key}: is required when PHOTO_STORE is set`);
}

function toBucket(env: z.infer<typeof Environment>): PhotoBucket | undefined {
  const [, bucket, prefix = ''] = BUCKET.exec(env.PHOTO_STORE ?? '') ?? [];
  const { S3_ENDPOINT: endpoint, S3_ACCESS_KEY_ID: accessKeyId, S3_SECRET_ACCESS_KEY: secretAccessKey } = env;
  // A bucket without the others was refused above.
  if (bucket === undefined || !endpoint || !accessKeyId || !secretAccessKey) return undefined;
  return {
    endpoint: endpoint.replace(/\/+$/, ''),
    region: env.S3_REGION,
    bucket,
    prefix,
    accessKeyId,
    secretAccessKey,
  };
}

function describeIssues(issues: readonly z.core.$ZodIssue[]): string[] {
  return issues.map((issue) => `${issue.path.join('.')}: ${issue.message}`);
}

function hidePassword(text: string | undefined): string | undefined {
  if (text === undefined) return undefined;
  const parsed = new URL(text);
  if (parsed.password !== '') parsed.password = '***';
  return parsed.href;
}
