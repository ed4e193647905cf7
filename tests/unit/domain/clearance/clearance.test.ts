import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  applyEntryHappening,
  CLEARANCE_STATUSES,
  type EntryHappening,
  type ClearanceFacts,
  foldClearance,
  NOTHING_YET,
} from '../../../../src/domain/clearance/clearance.ts';
import { decideClearance } from '../../../../src/domain/clearance/decide-clearance.ts';
import { alone } from '../../../support/clearance-histories.ts';

// What each status means is section 4 of the design; the instants are invented.
const at = (hour: number): string => new Date(Date.UTC(2026, 5, 13, hour)).toISOString();
const when = (hour: number): Date => new Date(at(hour));
const before = (hour: number): Date => new Date(when(hour).getTime() - 1);

const bar = (ruleId: string, concededUntil?: string) => ({ ruleId, title: `Rule ${ruleId}`, concededUntil });
const declared = (bars: ReturnType<typeof bar>[] = [], revision = 1): EntryHappening => ({
  type: 'declared',
  inspectionId: `i${revision}`,
  revision,
  verdict: bars.length > 0 ? 'barred' : 'clean',
  bars,
});
const accepted = (extra: Partial<Extract<EntryHappening, { type: 'signed-off' }>> = {}): EntryHappening => ({
  type: 'signed-off',
  signOffId: 's1',
  decision: 'accept',
  stickerNumber: '17',
  validFrom: at(6),
  validUntil: at(20),
  bars: [],
  conditions: [],
  ...extra,
});
const held = (holdId: string, reason = `reason ${holdId}`): EntryHappening => ({ type: 'held', holdId, reason });
const lifted = (holdId: string, requiresReinspection = false): EntryHappening => ({
  type: 'lifted',
  holdId,
  requiresReinspection,
});
const decide = (events: EntryHappening[], now: Date) => decideClearance(alone(foldClearance(events)), now);

describe('each status, with its reason', () => {
  const refused = accepted({
    decision: 'refuse',
    note: 'play in the left ball joint',
    validFrom: undefined,
    validUntil: undefined,
  });
  const cases: [string, EntryHappening[], string, boolean, RegExp][] = [
    ['nothing yet', [], 'no-declaration', false, /No declaration has been submitted/],
    ['a barred declaration', [declared([bar('a')])], 'barred', false, /^Barred: Rule a\.$/],
    ['a clean declaration', [declared()], 'in-line', false, /Waiting for inspection/],
    ['a refusal', [declared(), refused], 'refused', false, /play in the left ball joint/],
    ['an acceptance', [declared(), accepted()], 'clear', true, /Signed off at the tech line\./],
    [
      'an acceptance with conditions',
      [declared(), accepted({ conditions: [{ id: 'c', text: 'wheel torque again', dueAt: at(14) }] })],
      'clear-with-conditions',
      true,
      /on condition: wheel torque again \(by 2026-06-13T14:00:00.000Z\)/,
    ],
    [
      'a hold on an accepted car',
      [declared(), accepted(), held('h', 'contact in session 2')],
      'held',
      false,
      /contact in session 2/,
    ],
    [
      'a withdrawal, whatever else',
      [declared(), accepted(), held('h'), { type: 'withdrawn' }],
      'withdrawn',
      false,
      /withdrawn/,
    ],
    ['a newer declaration', [declared(), accepted(), declared([], 2)], 'in-line', false, /Waiting/],
    [
      'a voided declaration',
      [declared(), accepted(), { type: 'declaration-voided', reason: 'the car changed its run group' }],
      'no-declaration',
      false,
      /the car changed its run group.*submitted again/,
    ],
    [
      'a lift that asks to look again',
      [declared(), accepted(), held('h', 'leak'), lifted('h', true)],
      'in-line',
      false,
      /again \(after the hold "leak"\)/,
    ],
    ['a lift that does not', [declared(), accepted(), held('h'), lifted('h')], 'clear', true, /Signed off/],
    ['one of two holds lifted', [declared(), accepted(), held('h'), held('g'), lifted('h')], 'held', false, /reason g/],
  ];
  test.each(cases)('%s', (_what, events, status, admit, reason) => {
    const answer = decide(events, when(12));
    expect(answer).toMatchObject({ status, admit });
    expect(answer.reason).toMatch(reason);
    if (!admit) expect(answer.validUntil).toBeNull();
  });

  test('nobody is admitted to an event from the instant at which it was cancelled', () => {
    const of = alone(foldClearance([declared(), accepted()]));
    const cancelled = { ...of, days: { ...of.days, cancelled: { at: when(12), reason: 'the track is flooded' } } };
    expect(decideClearance(cancelled, before(12)).status).toBe('clear');
    expect(decideClearance(cancelled, when(12))).toMatchObject({ status: 'cancelled', admit: false, validUntil: null });
    expect(decideClearance(cancelled, when(12)).reason).toContain('the track is flooded');
  });

  test('every status has a case above, but expired and cancelled, which are about days', () => {
    const shown = cases.map(([, , status]) => status);
    expect(CLEARANCE_STATUSES.filter((status) => !shown.includes(status)).toSorted()).toEqual(['cancelled', 'expired']);
  });
});

describe('boundary instants', () => {
  test('a sign-off holds from its first instant and not at its last', () => {
    const events = [declared(), accepted()];
    expect(decide(events, before(6))).toMatchObject({ admit: false, status: 'expired' });
    expect(decide(events, when(6))).toMatchObject({ admit: true, validUntil: at(20) });
    expect(decide(events, before(20))).toMatchObject({ admit: true });
    expect(decide(events, when(20))).toMatchObject({ admit: false, status: 'expired' });
  });

  test('a condition is past due at its very instant, and clear again once done', () => {
    const events = [declared(), accepted({ conditions: [{ id: 'c', text: 'torque', dueAt: at(14) }] })];
    expect(decide(events, before(14))).toMatchObject({ admit: true, validUntil: at(14) });
    expect(decide(events, when(14))).toMatchObject({ admit: false, status: 'held' });
    expect(decide(events, when(14)).reason).toContain('torque');
    expect(decide([...events, { type: 'condition-done', conditionId: 'c' }], when(14))).toMatchObject({
      admit: true,
      status: 'clear',
      validUntil: at(20),
    });
  });

  test('a concession ends at its very instant, and the bar is back', () => {
    const events = [declared([bar('a', at(15))]), accepted({ bars: [bar('a', at(15))] })];
    expect(decide(events, before(15))).toMatchObject({ admit: true, status: 'clear', validUntil: at(15) });
    expect(decide(events, before(15)).reason).toContain('concession for: Rule a until');
    expect(decide(events, when(15))).toMatchObject({ admit: false, status: 'barred' });
  });

  test('a second concession extends the first and never shortens it', () => {
    const longer: EntryHappening = { type: 'conceded', ruleId: 'a', until: at(18) };
    const shorter: EntryHappening = { type: 'conceded', ruleId: 'a', until: at(9) };
    const events = [declared([bar('a', at(15))]), accepted({ bars: [bar('a', at(15))] })];
    expect(decide([...events, longer], when(16))).toMatchObject({ admit: true, validUntil: at(18) });
    expect(decide([...events, shorter], when(14))).toMatchObject({ admit: true, validUntil: at(15) });
  });

  test('the gate names what a concession asks for, and the longer one says what that is', () => {
    const first: EntryHappening = { type: 'conceded', ruleId: 'a', until: at(15), condition: 'torque after session 2' };
    const events = [declared([bar('a')]), first, accepted({ bars: [{ ...bar('a', at(15)), condition: 'torque' }] })];
    expect(decide(events, when(12)).reason).toBe(
      `Signed off at the tech line, with a concession for: Rule a until ${at(15)} (torque).`,
    );
    const longer: EntryHappening = { type: 'conceded', ruleId: 'a', until: at(18) };
    expect(decide([...events, longer], when(12)).reason).toContain(`Rule a until ${at(18)}.`);
    // Of two equal ends the one that asks for something counts, whichever came first.
    const asks: EntryHappening = { type: 'conceded', ruleId: 'a', until: at(18), condition: 'look again' };
    for (const both of [
      [longer, asks],
      [asks, longer],
    ])
      expect(decide([...events, ...both], when(12)).reason).toContain(`Rule a until ${at(18)} (look again)`);
  });

  test('a concession that comes to an accepted car can put an open condition on it', () => {
    const opens = { id: 'k', text: 'look again' };
    const granted: EntryHappening = { type: 'conceded', ruleId: 'a', until: at(18), condition: 'look again', opens };
    const events = [declared([bar('a', at(10))]), accepted({ bars: [bar('a', at(10))] }), granted];
    expect(decide(events, when(12))).toMatchObject({ status: 'clear-with-conditions', conditions: [opens] });
    const done: EntryHappening = { type: 'condition-done', conditionId: 'k' };
    expect(decide([...events, done], when(12))).toMatchObject({ status: 'clear', conditions: [] });
  });

  test('a revoked concession counts no more at that very event; another for the same rule goes on', () => {
    const covered = [declared([bar('a', at(18))]), accepted({ bars: [bar('a', at(18)), bar('b', at(19))] })];
    const left = (until?: string): EntryHappening => ({
      type: 'concession-revoked',
      bars: [bar('a', until), bar('b', at(19))],
    });
    expect(decide(covered, when(12))).toMatchObject({ admit: true });
    expect(decide([...covered, left()], when(12))).toMatchObject({ status: 'barred', reason: 'Barred: Rule a.' });
    expect(decide([...covered, left(at(15))], when(12))).toMatchObject({ admit: true, validUntil: at(15) });
    expect(foldClearance([left()])).toEqual(NOTHING_YET);
  });

  test('a concession for one rule leaves another bar standing', () => {
    const events = [declared([bar('a'), bar('b')]), { type: 'conceded', ruleId: 'a', until: at(18) } as const];
    expect(decide(events, when(12))).toMatchObject({ status: 'barred', reason: 'Barred: Rule b.' });
  });
});

describe('what must not be read as yes', () => {
  test('an acceptance without dates', () => {
    expect(decide([declared(), accepted({ validUntil: undefined })], when(12))).toMatchObject({ admit: false });
    expect(decide([declared(), accepted({ validFrom: undefined })], when(12))).toMatchObject({ admit: false });
  });

  test('an instant that is none throws instead of comparing as "not yet"', () => {
    expect(() => decide([declared(), accepted({ validUntil: 'soon' })], when(12))).toThrow(RangeError);
    const condition = { id: 'c', text: 'torque', dueAt: 'later' };
    expect(() => decide([declared(), accepted({ conditions: [condition] })], when(12))).toThrow(RangeError);
  });

  test('a sign-off without a declaration', () => {
    expect(decide([accepted()], when(12))).toMatchObject({ admit: false, status: 'no-declaration' });
  });
});

const hour = fc.integer({ min: 0, max: 23 });
const instant = hour.map(at);
const maybe = <T>(arb: fc.Arbitrary<T>) => fc.option(arb, { nil: undefined });
/** Mostly given, mostly such that a yes is possible: properties about a yes must meet one. */
const mostly = (min: number, max: number) => fc.option(fc.integer({ min, max }).map(at), { nil: undefined, freq: 20 });
const arbBars = fc.uniqueArray(
  fc.record({ ruleId: fc.constantFrom('a', 'b'), title: fc.constant('Rule'), concededUntil: mostly(6, 23) }),
  { selector: (one) => one.ruleId, maxLength: 2 },
);
const arbConditions = fc.uniqueArray(
  fc.record({ id: fc.constantFrom('c1', 'c2'), text: fc.constant('torque'), dueAt: maybe(instant) }),
  { selector: (one) => one.id, maxLength: 2 },
);
const arbDecision = fc.constantFrom('accept', 'accept-with-conditions', 'refuse');
const holdId = fc.constantFrom('h1', 'h2', 'h3');
const arbEvent: fc.Arbitrary<EntryHappening> = fc.oneof(
  {
    weight: 3,
    arbitrary: fc.record({
      type: fc.constant('declared'),
      inspectionId: fc.constant('i'),
      revision: fc.nat(),
      verdict: fc.constant('clean'),
      bars: arbBars,
    }),
  },
  {
    weight: 4,
    arbitrary: fc.record({
      type: fc.constant('signed-off'),
      signOffId: fc.constant('s'),
      decision: arbDecision,
      note: maybe(fc.constant('note')),
      validFrom: mostly(0, 9),
      validUntil: mostly(8, 23),
      bars: arbBars,
      conditions: arbConditions,
    }),
  },
  { weight: 1, arbitrary: fc.record({ type: fc.constant('declaration-voided'), reason: fc.constant('because') }) },
  {
    weight: 1,
    arbitrary: fc.record(
      {
        type: fc.constant('conceded'),
        ruleId: fc.constantFrom('a', 'b'),
        until: instant,
        condition: fc.constant('look again'),
        opens: fc.record({ id: fc.constantFrom('c1', 'c3'), text: fc.constant('look again') }),
      },
      { requiredKeys: ['type', 'ruleId', 'until'] },
    ),
  },
  { weight: 1, arbitrary: fc.record({ type: fc.constant('concession-revoked'), bars: arbBars }) },
  {
    weight: 1,
    arbitrary: fc.record({ type: fc.constant('condition-done'), conditionId: fc.constantFrom('c1', 'c2') }),
  },
  { weight: 1, arbitrary: fc.record({ type: fc.constant('held'), holdId, reason: fc.constant('contact') }) },
  { weight: 1, arbitrary: fc.record({ type: fc.constant('lifted'), holdId, requiresReinspection: fc.boolean() }) },
  { weight: 1, arbitrary: fc.constant({ type: 'withdrawn' }) },
) as fc.Arbitrary<EntryHappening>;
const arbAccepted = fc.constantFrom<EntryHappening[]>([], [declared(), accepted()]);
const arbEvents = fc
  .tuple(fc.array(arbEvent, { maxLength: 9 }), arbAccepted, fc.array(arbEvent, { maxLength: 4 }))
  .map(([earlier, middle, later]) => [...earlier, ...middle, ...later]);
const arbNow = fc.tuple(hour, fc.constantFrom(-1, 0, 1)).map(([h, ms]) => new Date(when(h).getTime() + ms));

/** The rule for "yes" said again, by numbers and without looking at the order in which the code asks. */
function mayGo(facts: ClearanceFacts, now: Date): boolean {
  const ms = (text: string | undefined) => (text === undefined ? Number.NaN : Date.parse(text));
  const { signOff } = facts;
  return [
    !facts.withdrawn,
    facts.holds.length === 0,
    facts.declared !== undefined,
    (facts.declared?.bars ?? []).every((one) => now.getTime() < ms(one.concededUntil)),
    signOff !== undefined && signOff.decision !== 'refuse',
    ms(signOff?.validFrom) <= now.getTime() && now.getTime() < ms(signOff?.validUntil),
    facts.conditions.every((one) => one.dueAt === undefined || now.getTime() < ms(one.dueAt)),
  ].every(Boolean);
}

describe('for any sequence of events', () => {
  const settings = { numRuns: 2000 };

  test('admits exactly when nothing stands against it', () => {
    fc.assert(
      fc.property(arbEvents, arbNow, (events, now) => {
        const facts = foldClearance(events);
        const answer = decideClearance(alone(facts), now);
        expect(answer.admit).toBe(mayGo(facts, now));
        expect(answer.admit).toBe(['clear', 'clear-with-conditions'].includes(answer.status));
        expect(answer.reason).toMatch(/^[A-Z].*[.…]$/);
      }),
      settings,
    );
  });

  test('never admits with a hold that was placed last, after a withdrawal, or on a revision that was not signed off', () => {
    fc.assert(
      fc.property(arbEvents, arbEvents, arbNow, (earlier, later, now) => {
        expect(decide([...earlier, held('h9')], now).admit).toBe(false);
        expect(decide([...earlier, { type: 'withdrawn' }, ...later], now).admit).toBe(false);
        expect(decide([...earlier, declared([], 9)], now).admit).toBe(false);
        expect(decide([...earlier, { type: 'declaration-voided', reason: 'x' }], now).admit).toBe(false);
      }),
      settings,
    );
  });

  test('a yes holds until validUntil if nothing happens, and not at it', () => {
    let admitted = 0;
    fc.assert(
      fc.property(arbEvents, arbNow, (events, now) => {
        const facts = foldClearance(events);
        const { admit, validUntil } = decideClearance(alone(facts), now);
        if (!admit) {
          expect(validUntil).toBeNull();
          return;
        }
        admitted += 1;
        const end = new Date(validUntil ?? Number.NaN);
        expect(end.getTime()).toBeGreaterThan(now.getTime());
        expect(decideClearance(alone(facts), new Date(end.getTime() - 1)).admit).toBe(true);
        expect(decideClearance(alone(facts), end).admit).toBe(false);
      }),
      settings,
    );
    // A property that never met a yes would say nothing.
    expect(admitted).toBeGreaterThan(20);
  });

  test('facts that were stored as JSON after each event decide the same', () => {
    fc.assert(
      fc.property(arbEvents, arbNow, (events, now) => {
        let stored: ClearanceFacts = NOTHING_YET;
        for (const event of events) {
          stored = JSON.parse(JSON.stringify(applyEntryHappening(stored, JSON.parse(JSON.stringify(event)))));
        }
        expect(stored).toEqual(JSON.parse(JSON.stringify(foldClearance(events))));
        expect(decideClearance(alone(stored), now)).toEqual(decideClearance(alone(foldClearance(events)), now));
      }),
      settings,
    );
  });

  test('neither the facts nor the event are changed', () => {
    fc.assert(
      fc.property(arbEvents, arbEvent, (events, event) => {
        const facts = foldClearance(events);
        const copy = structuredClone({ facts, event });
        applyEntryHappening(facts, event);
        decideClearance(alone(facts), when(12));
        expect({ facts, event }).toEqual(copy);
      }),
    );
  });
});

describe('a reason', () => {
  const long = 'oil under the engine that was seen from the grid and again in the paddock after the session';
  const reasonOf = (events: EntryHappening[], now = when(8)) =>
    decideClearance(alone(foldClearance(events)), now).reason;

  test('has at most 300 characters and says how many more there are', () => {
    const holds = Array.from({ length: 12 }, (_, index) => held(`h${index}`, `${long} ${index}`));
    const reason = reasonOf([declared(), accepted(), ...holds]);
    expect(reason.length).toBeLessThanOrEqual(300);
    expect(reason).toBe(`Held: ${long} 0; ${long} 1; and 10 more.`);
  });

  test('cuts one that is too long by itself', () => {
    const one = reasonOf([declared(), accepted(), held('h', 'x'.repeat(1000))]);
    expect(one.length).toBeLessThanOrEqual(300);
    expect(one).toMatch(/^Held: x+…\.$/);
    const two = reasonOf([declared(), accepted(), held('h', 'x'.repeat(1000)), held('i')]);
    expect(two).toMatch(/^Held: x+…; and 1 more\.$/);
    const refused = reasonOf([declared(), accepted({ decision: 'refuse', note: 'y'.repeat(1000) })]);
    expect(refused.length).toBeLessThanOrEqual(300);
    expect(refused).toMatch(/^Refused at the tech line: y+…\.$/);
  });

  test('of an admission is short as well', () => {
    const conditions = Array.from({ length: 20 }, (_, index) => ({
      id: `c${index}`,
      text: `${long} ${index}`,
      dueAt: at(19),
    }));
    const bars = Array.from({ length: 6 }, (_, index) => ({ ...bar(`rule ${index}`, at(19)), condition: long }));
    const answer = decideClearance(
      alone(foldClearance([declared(bars), accepted({ decision: 'accept-with-conditions', conditions, bars })])),
      when(8),
    );
    expect(answer.admit).toBe(true);
    expect(answer.reason.length).toBeLessThanOrEqual(300);
    expect(answer.reason).toMatch(/and \d+ more/);
    expect(answer.conditions).toHaveLength(20);
  });

  test('that fits is whole', () => {
    expect(reasonOf([declared(), accepted(), held('a', 'leak'), held('b', 'noise')])).toBe('Held: leak; noise.');
  });
});
