import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type EntryHappening, foldClearance } from '../../../../src/domain/clearance/clearance.ts';
import { decideClearance } from '../../../../src/domain/clearance/decide-clearance.ts';
import { contradictionOf, type EntryTimeline } from '../../../../src/features/gate/upload.ts';
import { alone, ALWAYS, arbHistory, at } from '../../../support/clearance-histories.ts';

// What becomes a line in the report is section 4 of the design; the instants are invented.
const date = (hour: number, ms = 0) => new Date(Date.parse(at(hour)) + ms);
const ACCEPTED: [number, EntryHappening][] = [
  [1, { type: 'declared', inspectionId: 'i', revision: 1, verdict: 'clean', bars: [] }],
  [
    2,
    {
      type: 'signed-off',
      signOffId: 's',
      decision: 'accept',
      validFrom: at(2),
      validUntil: at(20),
      bars: [],
      conditions: [{ id: 'c', text: 'torque', dueAt: at(14) }],
    },
  ],
];
const HELD: [number, EntryHappening] = [10, { type: 'held', holdId: 'h', reason: 'contact in session 2' }];
const LIFTED: [number, EntryHappening] = [12, { type: 'lifted', holdId: 'h', requiresReinspection: false }];

function timeline(events: [number, EntryHappening][], over: Partial<EntryTimeline> = {}): EntryTimeline {
  const steps = [{ at: date(0), event: null }, ...events.map(([hour, event]) => ({ at: date(hour), event }))];
  return {
    carNumber: '7',
    runGroupId: 'g1',
    runGroup: 'Novice',
    days: ALWAYS,
    steps,
    carSteps: [],
    wetSteps: [],
    ...over,
  };
}

const chain = { head: 9, writtenAt: new Map([[5, date(9)]]), deviceSince: date(0) };
const judge = (
  askedAt: Date,
  timelines: EntryTimeline[],
  over: { admit?: boolean; snapshotSeq?: number; runGroupId?: string; now?: Date } = {},
) => {
  const { now = date(23), ...check } = over;
  return contradictionOf({ carNumber: '7', askedAt, admit: true, snapshotSeq: 3, ...check }, { timelines, chain, now });
};

test('a check from before the device had access is a clock that is wrong', () => {
  const since = { ...chain, deviceSince: date(3) };
  const at = (askedAt: Date) => {
    const check = { carNumber: '7', askedAt, admit: false, snapshotSeq: 3 };
    return contradictionOf(check, { timelines: [], chain: since, now: date(23) });
  };
  expect(at(new Date(date(3).getTime() - 6 * 60_000))).toBe(
    'The clock of the device is wrong: asked at 2026-06-13T02:54:00.000Z, it has access since 2026-06-13T03:00:00.000Z.',
  );
  // Clocks may be a little apart.
  expect(at(new Date(date(3).getTime() - 4 * 60_000))).toBeUndefined();
});

describe('a pass', () => {
  const car = timeline([...ACCEPTED, HELD, LIFTED]);

  test('that the server would have given as well is nothing to report', () => {
    for (const askedAt of [date(2), date(10, -1), date(12), date(14, -1)]) {
      expect(judge(askedAt, [car])).toBeUndefined();
    }
  });

  test('after a hold is a line with both times', () => {
    expect(judge(date(11), [car])).toBe(`Admitted at ${at(11)}, but held since ${at(10)}: Held: contact in session 2.`);
    expect(judge(date(10), [car])).toContain('held since');
  });

  test('after a due time is a line with the due time, which no row of the history tells', () => {
    expect(judge(date(15), [car])).toContain(
      `Admitted at ${at(15)}, but held since ${at(14)}: A condition is past due`,
    );
    const [first, second] = ACCEPTED;
    const done: [number, EntryHappening] = [15, { type: 'condition-done', conditionId: 'c' }];
    const tidy = timeline([first, second, done] as [number, EntryHappening][]);
    expect(judge(date(16), [tidy])).toBeUndefined();
    expect(judge(date(21), [tidy])).toContain(`expired since ${at(20)}`);
  });

  test('onto a wet track on tyres of which nothing is known is a line, and not once it is dry again', () => {
    const wetSteps = [
      { at: date(5), wet: true },
      { at: date(7), wet: false },
    ];
    const wet = timeline(ACCEPTED, { wetSteps });
    expect(judge(date(6), [wet])).toBe(
      `Admitted at ${at(6)}, but held since ${at(5)}: Wet track: tread not known: have it measured.`,
    );
    for (const askedAt of [date(5, -1), date(7)]) expect(judge(askedAt, [wet])).toBeUndefined();
  });

  test('before anything was declared tells since when it could not go', () => {
    expect(judge(date(1, -1), [car])).toContain(`no-declaration since ${at(0)}`);
    expect(judge(date(1, 1), [car])).toContain(`in-line since ${at(0)}`);
  });

  test('of a number that nobody had says so', () => {
    expect(judge(date(11), [])).toContain('no car with this number was entered then');
    expect(judge(date(0, -1), [car])).toContain('no car with this number');
    expect(judge(date(3), [car], { runGroupId: 'g9' })).toContain('no car with this number');
  });

  test('of a shared car is measured by the run group asked for, or by all', () => {
    const shared = [timeline(ACCEPTED), timeline([], { runGroupId: 'g2', runGroup: 'Advanced' })];
    expect(judge(date(3), shared, { runGroupId: 'g1' })).toBeUndefined();
    expect(judge(date(3), shared)).toBe(
      `Admitted at ${at(3)}, but Advanced: no-declaration since ${at(0)}: No declaration has been submitted.`,
    );
  });
});

test('a no contradicts nothing, whatever the server would have said', () => {
  expect(judge(date(3), [timeline(ACCEPTED)], { admit: false })).toBeUndefined();
  expect(judge(date(3), [], { admit: false })).toBeUndefined();
});

describe('the clock of the device', () => {
  const car = timeline(ACCEPTED);

  test('may be five minutes ahead and no more', () => {
    const now = date(5);
    expect(judge(date(5, 300_000), [car], { now })).toBeUndefined();
    expect(judge(date(5, 300_001), [car], { now })).toBe(
      `The clock of the device is wrong: asked at ${date(5, 300_001).toISOString()}, uploaded at ${at(5)}.`,
    );
  });

  test('that is ahead does not make the server foresee anything', () => {
    expect(judge(date(21), [car], { now: date(5) })).not.toContain('expired');
  });

  test('cannot have asked before its list was there', () => {
    expect(judge(date(9), [car], { snapshotSeq: 5 })).toBeUndefined();
    expect(judge(date(9, -1), [car], { snapshotSeq: 5 })).toContain(`its list is of ${at(9)} or later`);
    expect(judge(date(9), [car], { snapshotSeq: 10 })).toContain('the history has 9 rows');
    expect(judge(date(9, -1), [car], { snapshotSeq: 5, admit: false })).toContain('clock');
  });
});

test('for any history: a pass is reported exactly when the facts of that instant did not admit', () => {
  let reported = 0;
  let fine = 0;
  fc.assert(
    fc.property(arbHistory, fc.integer({ min: 0, max: 22 }), (history, hour) => {
      // One thing an hour, from one o'clock on.
      const events = history.map((event, place): [number, EntryHappening] => [place + 1, event]);
      const known = foldClearance(events.filter(([when]) => when <= hour).map(([, event]) => event));
      const { admit } = decideClearance(alone(known), date(hour));
      const said = judge(date(hour), [timeline(events)]);
      expect(said === undefined).toBe(admit);
      if (admit) fine += 1;
      else {
        reported += 1;
        const since = new Date(/ since (\S+Z): /.exec(said ?? '')?.[1] ?? Number.NaN);
        expect(since.getTime()).toBeLessThanOrEqual(date(hour).getTime());
        const then = foldClearance(events.filter(([when]) => date(when) <= since).map(([, event]) => event));
        expect(decideClearance(alone(then), since).admit).toBe(false);
        const before = new Date(since.getTime() - 1);
        const earlier = foldClearance(events.filter(([when]) => date(when) <= before).map(([, event]) => event));
        // It went a moment before, or it never did.
        if (since > date(0)) expect(decideClearance(alone(earlier), before).admit).toBe(true);
      }
    }),
    { numRuns: 4000 },
  );
  expect(Math.min(reported, fine)).toBeGreaterThan(40);
});
