import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { NOTHING_WRONG } from '../../../../src/domain/clearance/car-happenings.ts';
import { type EntryHappening, foldClearance } from '../../../../src/domain/clearance/clearance.ts';
import { decideClearance } from '../../../../src/domain/clearance/decide-clearance.ts';
import {
  answerOffline,
  type GateSnapshot,
  stateFromList,
  toGateFacts,
} from '../../../../src/domain/clearance/gate-snapshot.ts';
import { parseSnapshot } from '../../../../src/web/gate/kept/snapshot.ts';
import { alone, ALWAYS, arbHistory, arbInstant, at } from '../../../support/clearance-histories.ts';

// What a gate says without a network is section 4 of the design: as the server would, and past its list nothing.
const ACCEPTED: EntryHappening[] = [
  { type: 'declared', inspectionId: 'i', revision: 1, verdict: 'clean', bars: [] },
  {
    type: 'signed-off',
    signOffId: 's',
    decision: 'accept-with-conditions',
    validFrom: at(5),
    validUntil: at(20),
    bars: [{ ruleId: 'a', title: 'Brake pads', concededUntil: at(16) }],
    conditions: [{ id: 'c', text: 'torque', dueAt: at(14) }],
  },
];

const DAYS = { from: ALWAYS.from.toISOString(), until: ALWAYS.until.toISOString() };

interface Listed {
  carNumber: string;
  group?: number;
  history: EntryHappening[];
}

function listOf(entries: Listed[], life: Partial<GateSnapshot> = {}): GateSnapshot {
  const snapshot: GateSnapshot = {
    iss: 'gridworthy',
    eventId: 'e1',
    name: 'Club day',
    asOf: at(0),
    staleAfter: at(23),
    seq: 12,
    head: 'ab',
    newestHold: null,
    days: DAYS,
    runGroups: [
      { runGroupId: 'g1', name: 'Novice' },
      { runGroupId: 'g2', name: 'Advanced' },
    ],
    entries: entries.map(({ carNumber, group = 0, history }) => ({
      carNumber,
      group,
      facts: toGateFacts(foldClearance(history), NOTHING_WRONG),
    })),
    ...life,
  };
  // As it arrives: through JSON and the schema of the device.
  const arrived = parseSnapshot(JSON.parse(JSON.stringify(snapshot)));
  if (arrived === undefined) throw new Error('the device does not understand it');
  return arrived;
}

const when = (hour: number, ms = 0) => new Date(Date.parse(at(hour)) + ms);

describe('for any history, at any instant', () => {
  test('the list says what the facts say, and admits only if they do', () => {
    let admitted = 0;
    fc.assert(
      fc.property(arbHistory, arbInstant, (history, now) => {
        const answer = answerOffline(
          listOf([{ carNumber: '7', history }], { asOf: at(-24), staleAfter: at(48) }),
          '7',
          now,
        );
        const truth = decideClearance(alone(foldClearance(history)), now);
        expect(answer).toMatchObject({ admit: truth.admit, status: truth.status, reason: truth.reason });
        expect(answer.validUntil).toBe(truth.validUntil);
        expect(answer.entries[0]?.conditions).toEqual(truth.conditions.map(({ text, dueAt }) => ({ text, dueAt })));
        if (truth.admit) admitted += 1;
      }),
      { numRuns: 2000 },
    );
    // A property that never met a yes would say nothing.
    expect(admitted).toBeGreaterThan(20);
  });

  test('whatever the life of the list, a yes needs a fresh list and the facts of every entry asked for', () => {
    let admitted = 0;
    const starts = fc.integer({ min: 0, max: 11 });
    const ends = fc.integer({ min: 8, max: 23 });
    fc.assert(
      fc.property(arbHistory, arbHistory, starts, ends, arbInstant, (one, two, from, until, now) => {
        const life = { asOf: at(from), staleAfter: at(until) };
        const entries = [
          { carNumber: '7', history: one },
          { carNumber: '7', group: 1, history: two },
        ];
        const snapshot = listOf(entries, life);
        const fresh = now >= when(from) && now < when(until);
        const says = [one, two].map((history) => decideClearance(alone(foldClearance(history)), now).admit);
        expect(answerOffline(snapshot, '7', now).admit).toBe(fresh && says.every(Boolean));
        expect(answerOffline(snapshot, '7', now, 'g2').admit).toBe(fresh && says[1]);
        if (fresh && says[1]) admitted += 1;
        if (!fresh) expect(answerOffline(snapshot, '7', now)).toMatchObject({ status: 'cannot-tell', entries: [] });
      }),
      { numRuns: 2000 },
    );
    expect(admitted).toBeGreaterThan(20);
  });

  test('a yes holds until its validUntil and not at it, as long as the list can be used', () => {
    fc.assert(
      fc.property(arbHistory, arbInstant, (history, now) => {
        const snapshot = listOf([{ carNumber: '7', history }], { asOf: at(0), staleAfter: at(18) });
        const { admit, validUntil } = answerOffline(snapshot, '7', now);
        if (!admit) return;
        const end = new Date(validUntil ?? Number.NaN);
        expect(answerOffline(snapshot, '7', new Date(end.getTime() - 1)).admit).toBe(true);
        expect(answerOffline(snapshot, '7', end).admit).toBe(false);
      }),
      { numRuns: 2000 },
    );
  });

  test('there and back the facts decide the same', () => {
    fc.assert(
      fc.property(arbHistory, arbInstant, fc.boolean(), (history, now, wet) => {
        const facts = foldClearance(history);
        const group = { name: 'Novice', ...(wet ? { wet: true as const } : {}) };
        const back = decideClearance(stateFromList(toGateFacts(facts, NOTHING_WRONG), group, DAYS), now);
        const { conditions, ...rest } = decideClearance({ ...alone(facts), wet }, now);
        expect(back).toMatchObject(rest);
        expect(back.conditions).toHaveLength(conditions.length);
      }),
    );
  });
});

describe('the clock alone changes the answer', () => {
  const snapshot = listOf([{ carNumber: '7', history: ACCEPTED }]);

  test.each([
    ['before the sign-off is valid', when(5, -1), false, 'expired'],
    ['from its first instant', when(5), true, 'clear-with-conditions'],
    ['until the condition is due', when(14, -1), true, 'clear-with-conditions'],
    ['from when it is due', when(14), false, 'held'],
    ['when the concession ends', when(16), false, 'barred'],
    ['when the list is stale', when(23), false, 'cannot-tell'],
    ['a year later', new Date('2027-06-13T10:00:00Z'), false, 'cannot-tell'],
    ['before the list was made', when(0, -1), false, 'cannot-tell'],
    ['with a clock that cannot be read', new Date(Number.NaN), false, 'cannot-tell'],
  ])('%s', (_what, now, admit, status) => {
    expect(answerOffline(snapshot, '7', now)).toMatchObject({ admit, status, asOf: at(0) });
  });

  test('past the list the answer says so and names nothing to go by', () => {
    const answer = answerOffline(snapshot, '7', when(23));
    expect(answer.reason).toBe(`Cannot tell: the list of ${at(0)} could be used until ${at(23)}.`);
    expect(answer).toMatchObject({ validUntil: null, entries: [], similar: [] });
    expect(answerOffline(snapshot, 'Q', when(23)).status).toBe('cannot-tell');
    expect(answerOffline(snapshot, '7', when(0, -1)).reason).toContain('clock of this device is behind');
  });
});

describe('numbers', () => {
  test('an unknown one is a no with those that may have been meant; none is taken for another', () => {
    const snapshot = listOf(['07', '17', '71', 'A7'].map((carNumber) => ({ carNumber, history: ACCEPTED })));
    expect(answerOffline(snapshot, '7', when(10))).toMatchObject({
      admit: false,
      status: 'unknown',
      reason: 'No car with the number 7 is on this list. Similar numbers: 07, 17, 71, A7.',
      similar: ['07', '17', '71', 'A7'],
    });
    expect(answerOffline(snapshot, '07', when(10))).toMatchObject({ admit: true, similar: [] });
    expect(answerOffline(listOf([]), '7', when(10))).toMatchObject({ admit: false, status: 'unknown', similar: [] });
  });

  test('of a shared car names the run group that says no; a group it is not in knows no such car', () => {
    const snapshot = listOf([
      { carNumber: '7', history: ACCEPTED },
      { carNumber: '7', group: 1, history: [] },
    ]);
    expect(answerOffline(snapshot, '7', when(10))).toMatchObject({
      admit: false,
      reason: 'Advanced: No declaration has been submitted.',
      entries: [
        { runGroup: 'Novice', admit: true },
        { runGroup: 'Advanced', admit: false },
      ],
    });
    expect(answerOffline(snapshot, '7', when(10), 'g1').admit).toBe(true);
    expect(answerOffline(snapshot, '7', when(10), 'g9')).toMatchObject({ admit: false, status: 'unknown' });
  });
});

describe('what a device does not take for a list', () => {
  const good = JSON.parse(JSON.stringify(listOf([{ carNumber: '7', history: ACCEPTED }])));
  const entry = good.entries[0];
  const withFacts = (facts: object) => ({ ...good, entries: [{ ...entry, facts: { ...entry.facts, ...facts } }] });

  test.each([
    ['nothing', undefined],
    ['null', null],
    ['a text', 'list'],
    ['one without entries', { ...good, entries: undefined }],
    ['an unknown member', { ...good, deltas: [] }],
    ['an unknown fact, which may be a reason to say no', withFacts({ impounded: true })],
    ['an instant that is none', withFacts({ conditions: [{ text: 'torque', dueAt: 'later' }] })],
    ['an unknown decision', withFacts({ signOff: { decision: 'wave-through' } })],
    ['a stale date that is none', { ...good, staleAfter: 'never' }],
    ['a run group that is not there', { ...good, entries: [{ ...entry, group: 2 }] }],
    ['a row number that is none', { ...good, seq: 1.5 }],
  ])('%s', (_what, value) => {
    expect(parseSnapshot(good)).toBeDefined();
    expect(parseSnapshot(value)).toBeUndefined();
  });
});
