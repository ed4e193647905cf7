import { expect, test, vi } from 'vitest';
import { hourly, startKeeper } from '../../../../src/platform/queue/job.ts';
import { createLogger } from '../../../../src/platform/logger.ts';
import { pause } from '../../../../src/platform/clock.ts';
import { waitFor } from '../../../support/wait.ts';

const log = createLogger({ level: 'silent' });
const on = new AbortController().signal;

test('a stop reaches the chore that runs, and begins no other', async () => {
  const seen: string[] = [];
  const long = async (signal: AbortSignal) => {
    seen.push('long began');
    await pause(60_000, signal);
    seen.push('long ended');
  };
  const keeper = startKeeper([long, async () => seen.push('next')], log);
  await waitFor('the chore', () => seen.length > 0);
  await keeper.stop();
  expect(seen).toEqual(['long began', 'long ended']);
});

test('a chore that fails keeps no other from running', async () => {
  const other = vi.fn(async () => undefined);
  const failing = async () => {
    throw new Error('no database');
  };
  const keeper = startKeeper([failing, other], log, 5);
  await waitFor('a second round', () => other.mock.calls.length >= 2);
  await keeper.stop();
});

test('an hourly chore runs once however often it is asked, and again after it failed', async () => {
  let runs = 0;
  const chore = hourly(async () => {
    runs += 1;
    if (runs === 1) throw new Error('no database');
  });
  await expect(chore(on)).rejects.toThrow('no database');
  await chore(on);
  await chore(on);
  expect(runs).toBe(2);
});
