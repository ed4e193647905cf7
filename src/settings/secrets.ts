import { closeSync, openSync, readSync } from 'node:fs';

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
