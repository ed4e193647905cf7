import { spawnSync } from 'node:child_process';
import { expect, test } from 'vitest';

const cwd = new URL('../../src/deploy/monitoring/', import.meta.url).pathname;
const promtool = (...args: string[]) => spawnSync('promtool', args, { cwd, encoding: 'utf8' });
const there = spawnSync('sh', ['-c', 'command -v promtool']).status === 0;
if (!there) process.stdout.write('SKIPPED: promtool not found\n');

// Source: Prometheus itself, its own checks and its own evaluation of the rules.
test.runIf(there)('the alert rules are rules, and fire when and only when they should', () => {
  const checked = promtool('check', 'rules', 'alerts.yml');
  expect(checked.status, checked.stderr).toBe(0);
  const tested = promtool('test', 'rules', 'alerts-test.yml');
  expect(tested.status, `${tested.stdout}${tested.stderr}`).toBe(0);
});
