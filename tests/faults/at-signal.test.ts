import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { afterEach, expect, test } from 'vitest';
import { programFile } from '../support/child.ts';
import { ROOT } from './member.ts';

let child: ChildProcess | undefined;
afterEach(() => void child?.kill('SIGKILL'));

function start(...args: string[]): { output: () => string; ended: Promise<unknown[]> } {
  child = spawn(process.execPath, [programFile('guarded-program'), ...args], {
    cwd: ROOT,
    stdio: ['ignore', 'pipe', 'ignore'],
  });
  let text = '';
  child.stdout?.on('data', (data) => (text += String(data)));
  return { output: () => text, ended: once(child, 'close') };
}

test.each(['SIGINT', 'SIGTERM'] as const)('%s closes what was started, and ends the run by it', async (signal) => {
  const { output, ended } = start();
  await expect.poll(output, { timeout: 20_000 }).toContain('started');
  child?.kill(signal);
  expect(await ended).toEqual([null, signal]);
  expect(output()).toBe('started\nclosed 1\nclosed the other\n');
});

test('a second signal does not wait', async () => {
  const { output, ended } = start();
  await expect.poll(output, { timeout: 20_000 }).toContain('started');
  child?.kill('SIGTERM');
  await new Promise((resolve) => setTimeout(resolve, 100));
  child?.kill('SIGINT');
  expect(await ended).toEqual([null, 'SIGINT']);
  expect(output()).toBe('started\n');
});

test('without a signal it closes once, and the process ends as it would', async () => {
  const { output, ended } = start('done');
  expect(await ended).toEqual([0, null]);
  expect(output()).toBe('started\nclosed the other\nclosed 1\n');
});
