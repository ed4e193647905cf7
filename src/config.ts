import type { z } from 'zod';
import type { SmtpSettings } from './platform/outgoing/smtp.ts';
import { Environment, type LOG_LEVELS, readSecretFiles, withPassword } from './settings/environment.ts';
import { missingForSignIn, type SignInPlan, toSignInPlan } from './settings/sign-in.ts';
import { BUCKET } from './settings/values.ts';

/**
 * Settings of one process, parsed once at start. Minutes, seconds, milliseconds and kilobytes are in the names.
 * `databaseUrl` absent means: start the embedded database in `dataDir`. `redisUrl` absent: the queue runs on PostgreSQL.
 */
export type Config = {
  databaseUrl: string | undefined;
  /** go on with a database that a later version has brought forward, where nothing was taken away */
  allowNewerDatabase: boolean;
  redisUrl: string | undefined;
  role: 'api' | 'worker' | 'both';
  port: number;
  /** where a worker answers health, readiness and metrics; absent: nowhere */
  workerPort: number | undefined;
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
  /** absent: no backups are made by themselves */
  backup: BackupPlan | undefined;
  backupPassphrase: string | undefined;
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
  mail: MailPlan;
  /** address ranges and host names beyond the public internet that webhooks may go to */
  webhookAllow: string[];
  streamsPerToken: number;
  streamsPerProcess: number;
  /** origins whose pages may call the API from a browser */
  corsOrigins: string[];
  /** absent: only organizer tokens read the metrics */
  metricsToken: string | undefined;
  /** what is exported to a collector of OpenTelemetry; the SDK reads the rest of `OTEL_…` itself */
  telemetry: { traces: boolean; metrics: boolean; metricIntervalMs: number };
  /** whom to tell of a weakness: `mailto:`, `https:` or `tel:`; absent: there is no security.txt */
  securityContact: string | undefined;
  /** absent: people of the office have tokens and codes only */
  signIn: SignInPlan | undefined;
};

/** Whether entrants are written to, by which server, how fast. */
export type MailPlan = {
  /** `keep`: messages are written and kept to be read, and none is sent */
  mode: 'off' | 'keep' | 'send';
  /** present where `mode` is `send` */
  smtp: SmtpSettings | undefined;
  language: 'en' | 'de';
  perMinute: number;
};

/** Where backups go, how often, how many are kept. */
export type BackupPlan = {
  to: { folder: string } | { bucket: PhotoBucket };
  /** 0: never by itself */
  everyHours: number;
  keep: number;
  passphrase: string | undefined;
};

/** A place in an S3-compatible object store; `prefix` has no slash at its ends. */
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

/**
 * Parses the environment; the empty string counts as absent. A secret may stand in a file that `<KEY>_FILE` names.
 *
 * With `ROLE` set, `DATABASE_URL` is required: an embedded database belongs to the one process that started it.
 *
 * @throws ConfigError naming every bad key
 */
export function loadConfig(env: Record<string, string | undefined>): Config {
  const { given, problems } = readSecretFiles(env);
  const parsed = Environment.safeParse(given);
  if (!parsed.success) problems.push(...describeIssues(parsed.error.issues));
  if ((given['ROLE'] === 'api' || given['ROLE'] === 'worker') && given['DATABASE_URL'] === undefined) {
    problems.push('DATABASE_URL: is required when ROLE is set, because an embedded database belongs to one process');
  }
  problems.push(
    ...missingForBucket(given),
    ...strayPasswords(given),
    ...missingForMail(given),
    ...missingForSignIn(given),
  );
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
    mail: { ...config.mail, smtp: config.mail.smtp && { ...config.mail.smtp, user: '[set]', password: '[set]' } },
    signIn: config.signIn && { ...config.signIn, clientSecret: config.signIn.clientSecret && '[set]' },
    photoBucket: config.photoBucket && hideKeys(config.photoBucket),
    backupPassphrase: config.backupPassphrase === undefined ? undefined : '[set]',
    backup: config.backup && {
      ...config.backup,
      to: 'bucket' in config.backup.to ? { bucket: hideKeys(config.backup.to.bucket) } : config.backup.to,
      passphrase: config.backup.passphrase === undefined ? undefined : '[set]',
    },
  };
}

function toConfig(env: z.infer<typeof Environment>): Config {
  return {
    databaseUrl: withPassword(env.DATABASE_URL, env.DATABASE_PASSWORD),
    allowNewerDatabase: env.NEWER_DATABASE === 'allow',
    redisUrl: withPassword(env.REDIS_URL, env.REDIS_PASSWORD),
    role: env.ROLE ?? 'both',
    port: env.PORT,
    workerPort: env.WORKER_PORT,
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
    photoBucket: toBucket(env, env.PHOTO_STORE),
    backup: toBackupPlan(env),
    backupPassphrase: env.BACKUP_PASSPHRASE,
    photoLimitKb: env.PHOTO_LIMIT_KB,
    photoMegapixels: env.PHOTO_MEGAPIXELS,
    photosPerEntry: env.PHOTOS_PER_ENTRY,
    rateLimitPerMinute: env.RATE_LIMIT_PER_MINUTE,
    maxLoopDelayMs: env.MAX_LOOP_DELAY_MS,
    maxHeapMb: env.MAX_HEAP_MB,
    maxWaitMs: env.MAX_WAIT_MS,
    gateSnapshotHours: env.GATE_SNAPSHOT_HOURS,
    mail: toMailPlan(env),
    webhookAllow: env.WEBHOOK_ALLOW,
    streamsPerToken: env.STREAMS_PER_TOKEN,
    streamsPerProcess: env.STREAMS_PER_PROCESS,
    corsOrigins: env.CORS_ORIGINS,
    metricsToken: env.METRICS_TOKEN,
    telemetry: toTelemetry(env),
    securityContact: env.SECURITY_CONTACT,
    signIn: toSignInPlan(env),
  };
}

const BUCKET_NEEDS = ['S3_ENDPOINT', 'S3_ACCESS_KEY_ID', 'S3_SECRET_ACCESS_KEY'] as const;

function missingForBucket(given: Record<string, string | undefined>): string[] {
  const inBucket = ['PHOTO_STORE', 'BACKUP_TO'].find((key) => given[key]?.startsWith('s3://'));
  if (inBucket === undefined) return [];
  const missing = BUCKET_NEEDS.filter((key) => given[key] === undefined);
  return missing.map((key) => `${key}: is required when ${inBucket} is set to a bucket`);
}

function missingForMail(given: Record<string, string | undefined>): string[] {
  const sends = given['MAIL'] === 'send' || (given['MAIL'] === undefined && given['SMTP_URL'] !== undefined);
  const needs = sends ? ['SMTP_URL', 'MAIL_FROM'] : [];
  const missing = needs.filter((key) => given[key] === undefined).map((key) => `${key}: is required to send mail`);
  const pair = (['SMTP_USER', 'SMTP_PASSWORD'] as const).filter((key) => given[key] === undefined);
  return sends && pair.length === 1
    ? [...missing, `${pair[0]}: is required beside the other of user and password`]
    : missing;
}

function toMailPlan(env: z.infer<typeof Environment>): MailPlan {
  const mode = env.MAIL ?? (env.SMTP_URL === undefined ? 'off' : 'send');
  const common = { mode, language: env.MAIL_LANGUAGE, perMinute: env.MAIL_PER_MINUTE };
  if (mode !== 'send' || env.SMTP_URL === undefined) return { ...common, smtp: undefined };
  const { protocol, hostname, port } = new URL(env.SMTP_URL);
  const secure = protocol === 'smtps:';
  const smtp: SmtpSettings = {
    host: hostname,
    port: port === '' ? (secure ? 465 : 587) : Number(port),
    secure,
    plain: env.SMTP_PLAIN === 'allow' && !secure,
    user: env.SMTP_USER,
    password: env.SMTP_PASSWORD,
    from: env.MAIL_FROM ?? '',
    replyTo: env.MAIL_REPLY_TO,
  };
  return { ...common, smtp };
}

/** Off unless somebody says where to: a server of a club has no collector. */
function toTelemetry(env: z.infer<typeof Environment>): Config['telemetry'] {
  const on = (exporter: 'otlp' | 'none', endpoint: string | undefined) =>
    env.OTEL_SDK_DISABLED === 'false' &&
    exporter === 'otlp' &&
    (endpoint ?? env.OTEL_EXPORTER_OTLP_ENDPOINT) !== undefined;
  return {
    traces: on(env.OTEL_TRACES_EXPORTER, env.OTEL_EXPORTER_OTLP_TRACES_ENDPOINT),
    metrics: on(env.OTEL_METRICS_EXPORTER, env.OTEL_EXPORTER_OTLP_METRICS_ENDPOINT),
    metricIntervalMs: env.OTEL_METRIC_EXPORT_INTERVAL,
  };
}

function toBackupPlan(env: z.infer<typeof Environment>): BackupPlan | undefined {
  if (env.BACKUP_TO === undefined) return undefined;
  const bucket = toBucket(env, env.BACKUP_TO);
  return {
    to: bucket === undefined ? { folder: env.BACKUP_TO } : { bucket },
    everyHours: env.BACKUP_EVERY_HOURS,
    keep: env.BACKUP_KEEP,
    passphrase: env.BACKUP_PASSPHRASE,
  };
}

function strayPasswords(given: Record<string, string | undefined>): string[] {
  return (['DATABASE', 'REDIS'] as const).flatMap((what) => {
    const [key, url] = [`${what}_PASSWORD`, given[`${what}_URL`]];
    if (given[key] === undefined) return [];
    if (url === undefined) return [`${key}: needs ${what}_URL`];
    // An address that is none was refused above.
    const twice = URL.canParse(url) && new URL(url).password !== '';
    return twice ? [`${key}: is in ${what}_URL already; keep one of the two`] : [];
  });
}

function toBucket(env: z.infer<typeof Environment>, place: string | undefined): PhotoBucket | undefined {
  const [, bucket, prefix = ''] = BUCKET.exec(place ?? '') ?? [];
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

const hideKeys = (bucket: PhotoBucket): PhotoBucket => ({
  ...bucket,
  accessKeyId: '[set]',
  secretAccessKey: '[set]',
});

function describeIssues(issues: readonly z.core.$ZodIssue[]): string[] {
  return issues.map((issue) => `${issue.path.join('.')}: ${issue.message}`);
}

function hidePassword(text: string | undefined): string | undefined {
  if (text === undefined) return undefined;
  const parsed = new URL(text);
  if (parsed.password !== '') parsed.password = '***';
  return parsed.href;
}
