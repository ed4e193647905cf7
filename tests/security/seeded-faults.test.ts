import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { fuzz, type FuzzReport, inject, type Send } from './fuzz.ts';
import { SEEDED_FAULTS, type SeededFault } from './seeded-faults.ts';

/** Always the same requests, unless told: whether a fault is found must not be a matter of luck. */
const seed = Number(process.env['FUZZ_SEED'] ?? 14);
/** Each fault is in one operation of more than two hundred, and shows in some of its requests only. */
const MOST_REQUESTS = 40_000;

let t: TestApp;
let report: FuzzReport;

const ELSEWHERE = new Set(SEEDED_FAULTS.flatMap(({ finds }) => finds.operation ?? []));

/** Whether a finding is that of a fault; one that may be anywhere is not where another fault is. */
const isOf =
  ({ finds }: SeededFault) =>
  ({ kind, operation }: { kind: string; operation: string }) =>
    kind === finds.kind && (finds.operation === undefined ? !ELSEWHERE.has(operation) : operation === finds.operation);

// All faults stand in the application at once, each in an operation of its own: one run looks for them all.
beforeAll(async () => {
  t = await startTestApp();
  const { token } = await t.mint('organizer', { holder: 'Fault' });
  report = await fuzz(t, {
    seed,
    requests: MOST_REQUESTS,
    send: SEEDED_FAULTS.reduce<Send>(
      (send, fault) => fault.around(send, token),
      (sent) => inject(t, sent),
    ),
    until: (findings) => SEEDED_FAULTS.every((fault) => findings.some(isOf(fault))),
  });
}, 600_000);
afterAll(() => t.close());

describe(`with seed ${seed}, the generator finds`, () => {
  test.each(SEEDED_FAULTS.map((fault) => [fault.name, fault] as const))('%s', (name, fault) => {
    const finding = report.findings.find(isOf(fault));
    process.stdout.write(
      `seeded fault: ${name}: ${finding === undefined ? 'NOT FOUND' : `found after ${finding.after} requests`}\n`,
    );
    expect(finding, `${name}, seed ${seed}`).toBeDefined();
    expect(finding?.curl).toMatch(/^curl -X [A-Z]+ '\$SERVER\/v1\//);
  });
});
