import { expect, test } from 'vitest';
import { KINDS, percentile } from './measures.ts';
import { NORMAL, runLoad } from './run-load.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);

// The numbers are for a machine of one's own (`npm run load`). Here it is only whether everybody gets an answer.
test('a small crowd is served for five seconds, and under a flood the gate still answers', {
  timeout: 240_000,
}, async () => {
  const [calm, flood, after] = await runLoad({
    size: { entrants: 40, inspectors: 5, marshals: 5 },
    phases: [
      { name: 'calm', seconds: 5, pace: { ...NORMAL, submitEveryMs: 10_000, inspectEveryMs: 2000 } },
      { name: 'flood', seconds: 3, pace: { submitEveryMs: 500, inspectEveryMs: 500, lookupEveryMs: 100 } },
      { name: 'calm again', seconds: 2, pace: { ...NORMAL, submitEveryMs: 10_000 } },
    ],
    say,
  });
  for (const phase of [calm, flood, after]) {
    expect(Object.fromEntries(phase?.measures.failures ?? [])).toEqual({});
    const { good, shed } = phase?.measures.of('lookup') ?? {};
    expect(good).toBeGreaterThan(0);
    expect(shed).toBe(0);
    expect(phase?.recoveredMs).toBeLessThan(60_000);
  }
  for (const kind of KINDS) expect(calm?.measures.of(kind).good, kind).toBeGreaterThan(0);
  // 120 submissions in 3 s are some seconds of work: they wait in line or are refused, but they do not pile up.
  expect(flood?.peakMiB).toBeLessThan((calm?.peakMiB ?? 0) + 400);
});

// The nearest-rank method and its example: Wikipedia, "Percentile" (from memory).
test('a percentile is the smallest value that so many do not exceed', () => {
  const values = [15, 20, 35, 40, 50];
  expect([0.05, 0.3, 0.4, 0.5, 1].map((share) => percentile(values, share))).toEqual([15, 20, 20, 35, 50]);
  expect(percentile([], 0.99)).toBe(0);
});
