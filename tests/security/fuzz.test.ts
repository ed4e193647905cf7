import { afterAll, beforeAll, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { fuzz } from './fuzz.ts';
import { describeReport } from './report.ts';
import { SIZE } from '../support/size.ts';

/** Set by `npm run fuzz -- --seed N --runs M`. A test run has a seed of its own: what lands must not be a matter of luck. */
const seed = Number(process.env['FUZZ_SEED'] ?? 101);
const requests = Number(process.env['FUZZ_RUNS'] ?? SIZE.fuzz);

let t: TestApp;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());

const before = Object.keys(Object.getOwnPropertyDescriptors(Object.prototype)).toSorted();

test(`${requests} requests to every operation find nothing wrong`, { timeout: 60_000 + requests * 100 }, async () => {
  const report = await fuzz(t, { seed, requests });
  const text = describeReport(report);
  process.stdout.write(`${text}\n`);
  expect(report.findings.length, text).toBe(0);
  expect(report.requests).toBeGreaterThanOrEqual(requests);
  // Not one of the keys that were sent to pollute it is on what every object inherits.
  expect(Object.keys(Object.getOwnPropertyDescriptors(Object.prototype)).toSorted()).toEqual(before);
});
