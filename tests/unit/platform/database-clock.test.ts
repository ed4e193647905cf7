import { expect, test } from 'vitest';
import { openDatabaseClock } from '../../../src/platform/clock.ts';
import type { Pool } from '../../../src/platform/database/db.ts';
import type { Logger } from '../../../src/platform/logger.ts';

const TRUE = Date.parse('2026-06-14T12:00:00.000Z');

/** A database and a machine, whose clocks the test sets; an answer takes as long as it is told. */
function machine(start: { wallMs: number }) {
  const state = { databaseMs: TRUE, wallMs: start.wallMs, steadyMs: 1000, answerMs: 10, fails: false };
  const pass = (ms: number) => {
    state.databaseMs += ms;
    state.wallMs += ms;
    state.steadyMs += ms;
  };
  const pool = {
    async query() {
      if (state.fails) throw new Error('away');
      pass(state.answerMs / 2);
      const at = new Date(state.databaseMs);
      pass(state.answerMs / 2);
      return { rows: [{ at }] };
    },
  } as unknown as Pool;
  const warned: unknown[] = [];
  const log = { warn: (fields: unknown) => warned.push(fields) } as unknown as Logger;
  const clock = openDatabaseClock(pool, log, { wall: () => state.wallMs, steady: () => state.steadyMs });
  return { state, pass, clock, warned };
}

test('goes with the database, whatever this machine says, and tells the difference', async () => {
  const { clock, pass, warned } = machine({ wallMs: TRUE - 3_600_000 });
  expect(clock.differenceMs?.()).toBeUndefined();
  await clock.measure();
  expect(clock.now().getTime()).toBe(TRUE + 10);
  pass(5000);
  expect(clock.now().getTime()).toBe(TRUE + 5010);
  expect(clock.differenceMs?.()).toBe(-3_600_000);
  expect(warned).toEqual([{ differenceMs: -3_600_000 }]);
});

test('a clock that is set back meanwhile revives nothing', async () => {
  const { state, clock, pass, warned } = machine({ wallMs: TRUE });
  await clock.measure();
  expect(warned).toEqual([]);
  const before = clock.now();
  state.wallMs -= 86_400_000;
  pass(1);
  expect(clock.now().getTime()).toBe(before.getTime() + 1);
  await clock.measure();
  expect(clock.now().getTime()).toBe(state.databaseMs);
  expect(clock.differenceMs?.()).toBe(-86_400_000);
});

test('an answer that was long on its way does not move it, and none leaves it going', async () => {
  const { state, clock } = machine({ wallMs: TRUE });
  await clock.measure();
  state.answerMs = 3000;
  state.databaseMs += 700;
  await clock.measure();
  expect(clock.now().getTime()).toBe(TRUE + 10 + 3000);
  state.fails = true;
  await expect(clock.measure()).rejects.toThrow('away');
  await clock.start();
  clock.stop();
  expect(clock.now().getTime()).toBe(TRUE + 10 + 3000);
});
