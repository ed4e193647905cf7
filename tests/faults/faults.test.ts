import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import type { Promise_ } from './violation.ts';
import type { Mode } from './plan.ts';
import { type FaultReport, type FaultRun, runFaults, summary } from './run-faults.ts';
import { SIZE } from '../support/size.ts';

// The manner of these tests is that of Jepsen (common practice): clients with one thing to do at a time, something that
// breaks what they work with, a recorded history, and a checker that knows a model and nothing of the service.

const SEED = 7;
const say = (line: string) => process.stdout.write(`${line}\n`);
// Much of it is waiting for processes to start, which a busy machine takes its time for.
const PATIENCE = { timeout: 400_000 };

/** Everything a run could have looked at was there to be looked at. */
function assertNotIdle({ counts }: FaultReport): void {
  for (const what of [
    'acknowledged',
    'lookups',
    'admitted',
    'claims',
    'signOffs',
    'outboxRows',
    'notifications',
    'leaves',
    'imports',
  ]) {
    expect(counts[what], what).toBeGreaterThan(0);
  }
}

// Chosen so that the few rounds hold every kind of fault where the machine can do them all.
const RUNS: { mode: Mode; rounds: number; seed: number; kinds: string[] }[] = [
  {
    mode: 'processes',
    ...SIZE.faults.processes,
    kinds: [
      'cut',
      'disk-full',
      'flush-redis',
      'freeze',
      'kill',
      'leases-end',
      'quit-database',
      'restart-database',
      'restart-redis',
      'stop',
    ],
  },
  { mode: 'embedded', ...SIZE.faults.embedded },
];

describe('while processes, databases, disks and connections fail', () => {
  test.each(RUNS)(
    'nothing is lost and nobody gets in who does not belong: $rounds rounds, $mode',
    PATIENCE,
    async ({ kinds, ...run }) => {
      const report = await runFaults({ ...run, say });
      say(summary(report));
      for (const reason of report.skipped) say(`SKIPPED: ${reason}`);
      expect(report.violations).toEqual([]);
      expect(report.harmfulStaleReads).toBe(0);
      expect(report.rounds).toBe(run.rounds);
      if (report.skipped.length === 0) {
        expect([...new Set(report.faults.map(({ kind }) => kind))].toSorted()).toEqual(kinds);
      }
      assertNotIdle(report);
    },
  );
});

describe('the checker', () => {
  const broken = (name: string) => fileURLToPath(new URL(`sabotage/${name}.mjs`, import.meta.url));
  const calm = {
    seed: SEED,
    rounds: 0,
    mode: 'embedded',
    calmSignOffs: SIZE.faults.calmSignOffs,
    settleMs: 8000,
  } as const;

  test.each<{ what: string; promise: Promise_; run: Partial<FaultRun> }>([
    {
      what: 'an outbox that is never emptied',
      promise: 'outbox row is done at least once',
      run: { imports: [broken('outbox-off')] },
    },
    {
      what: 'a sign-off that does not ask whether the claim is over',
      promise: 'sign-off is once per claim',
      run: {
        imports: [broken('sign-off-unconditional')],
        // The database would refuse the second one by itself; this is a build whose migration forgot that.
        prepare: (client) => client.query('DROP INDEX sign_offs_claim_id_key'),
      },
    },
    {
      what: 'a gate that remembers its answers for 5 seconds',
      promise: 'gate never admits against the history',
      run: { imports: [broken('gate-cache')] },
    },
  ])('catches $what', PATIENCE, async ({ promise, run }) => {
    const report = await runFaults({ ...calm, ...run });
    say(
      `${summary(report)}; caught: ${[...new Set(report.violations.map((violation) => violation.promise))].join(', ')}`,
    );
    expect(report.violations.map((violation) => violation.promise)).toContain(promise);
  });

  test('finds nothing in the same calm without any of them', PATIENCE, async () => {
    const report = await runFaults({ ...calm, settleMs: 60_000 });
    say(summary(report));
    expect(report.violations).toEqual([]);
    assertNotIdle(report);
  });
});
