import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { fuzz, inject } from './fuzz.ts';
import { SEEDED_FAULTS } from './seeded-faults.ts';

/** Always the same requests, unless told: whether a fault is found must not be a matter of luck. */
const seed = Number(process.env['FUZZ_SEED'] ?? 5);
/** Each fault is in one operation of more than two hundred, and shows in some of its requests only. */
const MOST_REQUESTS = 40_000;

let t: TestApp;
let masterToken: string;

beforeAll(async () => {
  t = await startTestApp();
  masterToken = (await t.mint('organizer', { holder: 'Fault' })).token;
});
afterAll(() => t.close());

describe(`with seed ${seed}, the generator finds`, () => {
  test.each(SEEDED_FAULTS.map((fault) => [fault.name, fault] as const))(
    '%s',
    { timeout: 600_000 },
    async (name, fault) => {
      const isIt = ({ kind, operation }: { kind: string; operation: string }) =>
        kind === fault.finds.kind && operation === (fault.finds.operation ?? operation);
      const report = await fuzz(t, {
        seed,
        requests: MOST_REQUESTS,
        send: fault.around((sent) => inject(t, sent), masterToken),
        until: (findings) => findings.some(isIt),
      });
      const finding = report.findings.find(isIt);
      process.stdout.write(
        `seeded fault: ${name}: ${finding === undefined ? 'NOT FOUND' : `found after ${finding.after} requests`}\n`,
      );
      expect(finding, `${name}, seed ${seed}`).toBeDefined();
      expect(finding?.curl).toMatch(/^curl -X [A-Z]+ '\$SERVER\/v1\//);
    },
  );
});
