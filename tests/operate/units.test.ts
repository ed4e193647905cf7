import { spawnSync } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';

const FOLDER = new URL('../../src/deploy/systemd/', import.meta.url).pathname;
const units = readdirSync(FOLDER).filter((name) => /\.(service|timer)$/.test(name));
/** of 10; systemd calls what is below 2 "OK" */
const MOST_EXPOSED = 2;

const analyze = (...args: string[]) => {
  const { status, stdout, stderr } = spawnSync('systemd-analyze', args, { encoding: 'utf8', cwd: FOLDER });
  return { status, said: `${stdout}${stderr}` };
};

// Source: systemd itself, its own checks.
test.each(units)('%s is a unit that systemd takes without a word', (unit) => {
  expect(analyze('verify', '--man=no', join(FOLDER, unit))).toEqual({ status: 0, said: '' });
});

test.each(units.filter((name) => name.endsWith('.service')))('%s is as closed as its work allows', (unit) => {
  const { status, said } = analyze(
    'security',
    '--offline=true',
    `--threshold=${MOST_EXPOSED * 10}`,
    join(FOLDER, unit),
  );
  expect(said).toContain('Overall exposure level');
  expect(status, said).toBe(0);
});
