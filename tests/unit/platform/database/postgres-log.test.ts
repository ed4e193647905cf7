import { mkdtemp, open, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { keepLogSmall } from '../../../../src/platform/database/server-process.ts';

test('a log that has grown too long becomes the one before it, while it is written to', async () => {
  const folder = await mkdtemp(join(tmpdir(), 'gridworthy-log-'));
  try {
    const path = join(folder, 'postgres.log');
    // What PostgreSQL has: a file that is open for appending all the time.
    const log = await open(path, 'a');
    await log.write('first\n');
    await keepLogSmall(path, 6);
    expect(await readFile(path, 'utf8')).toBe('first\n');
    await log.write('second\n');
    await keepLogSmall(path, 6);
    await log.write('third\n');
    expect(await readFile(`${path}.1`, 'utf8')).toBe('first\nsecond\n');
    expect(await readFile(path, 'utf8')).toBe('third\n');
    await keepLogSmall(path, 5);
    expect(await readFile(`${path}.1`, 'utf8')).toBe('third\n');
    await log.close();
    await keepLogSmall(join(folder, 'absent'), 0);
  } finally {
    await rm(folder, { recursive: true });
  }
});
