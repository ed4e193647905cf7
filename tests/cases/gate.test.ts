import { afterAll, beforeAll, expect, test } from 'vitest';
import { PROFILE_NAMES } from '../../seed/built-in.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { type Case, loadCases, loadOpen } from './case.ts';
import type { Outcome } from './outcome.ts';
import { Route } from './route.ts';
import { faultsOf, formatTable, type Row } from './table.ts';

/** cars on their way at once: enough to keep the service and its database busy */
const LANES = 4;

let t: TestApp;
let route: Route;
let rows: Row[];
const cases = loadCases();
const open = loadOpen().cases;

beforeAll(async () => {
  t = await startTestApp();
  route = new Route(t);
  const outcomes = new Map<string, Outcome>();
  const bring = async (some: Iterable<Case>) => {
    for (const of of some) outcomes.set(of.id, await route.try(of));
  };
  // those with earlier events move the clock, the others share what is left in a few lanes
  await bring(cases.filter(({ earlier }) => earlier.length > 0));
  const rest = cases.filter(({ earlier }) => earlier.length === 0).values();
  await Promise.all(Array.from({ length: LANES }, () => bring(rest)));
  rows = cases.flatMap((of) => {
    const outcome = outcomes.get(of.id);
    return outcome === undefined ? [] : [{ of, outcome }];
  });
  // A thousand cars: most of a minute, and on a machine in a slow hour many.
}, 1_200_000);
afterAll(async () => {
  await t.close();
  if (process.env['PRINT_CASES'] !== undefined) process.stdout.write(formatTable(rows, open));
});

test('every dangerous car is stopped before the gate, and every honest car gets through, but for the open cases', () => {
  const faults = faultsOf(rows);
  expect(rows.length).toBeGreaterThanOrEqual(800);
  expect([...faults].filter(([id]) => open[id] === undefined)).toEqual([]);
  expect(Object.keys(open).filter((id) => !faults.has(id))).toEqual([]);
});

test.each(PROFILE_NAMES)('a good car of the group %s that nobody looked at is not accepted', async (group) => {
  const good = cases.find(({ id }) => id === `good-coupe-${group}`);
  expect(good && (await route.tryUnseen(good))).toMatchObject({
    green: false,
    reason: expect.stringMatching(/Brake pedal/),
  });
});
