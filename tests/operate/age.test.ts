import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { decryptFile, encryptFile } from '../../src/backup/place.ts';

const folder = mkdtempSync(join(tmpdir(), 'gridworthy-age-'));
afterAll(() => rmSync(folder, { recursive: true }));
const at = (name: string) => join(folder, name);
const PASSPHRASE = 'four plain words here';
const there = spawnSync('sh', ['-c', 'command -v age && command -v script']).status === 0;
if (!there) process.stdout.write('SKIPPED: age or script not found\n');

/** The reference program asks for a passphrase at a terminal only, so it gets one. */
const age = (command: string, answers: string) =>
  spawnSync('script', ['-qec', `age ${command}`, '/dev/null'], { input: answers, encoding: 'utf8', timeout: 60_000 });

// Source: the reference implementation of the age format, as Debian has it.
test.runIf(there)('the reference program opens what we close, and we open what it closes', async () => {
  const plain = Buffer.alloc(300_000, 'a backup ');
  writeFileSync(at('plain'), plain);
  await encryptFile(at('plain'), at('ours'), PASSPHRASE);
  const opened = age(`--decrypt --output ${at('theirs-opened')} ${at('ours')}`, `${PASSPHRASE}\n`);
  expect(opened.status, opened.stdout).toBe(0);
  expect(readFileSync(at('theirs-opened')).equals(plain)).toBe(true);
  const closed = age(`--passphrase --output ${at('theirs')} ${at('plain')}`, `${PASSPHRASE}\n${PASSPHRASE}\n`);
  expect(closed.status, closed.stdout).toBe(0);
  await decryptFile(at('theirs'), at('ours-opened'), PASSPHRASE);
  expect(readFileSync(at('ours-opened')).equals(plain)).toBe(true);
});
