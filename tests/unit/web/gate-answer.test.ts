import { NOTHING_WRONG } from '../../../src/domain/clearance/car-happenings.ts';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { foldClearance } from '../../../src/domain/clearance/clearance.ts';
import { answerOffline, type GateSnapshot, toGateFacts } from '../../../src/domain/clearance/gate-snapshot.ts';
import {
  admits,
  cannotTell,
  fromList,
  fromServer,
  kindOf,
  type Status,
  withStop,
} from '../../../src/web/gate/answer/answer.ts';
import { refusedIn, stillNewer, withAnswer } from '../../../src/web/gate/kept/check-log.ts';
import { at, arbHistory } from '../../support/clearance-histories.ts';

const nobody = () => undefined;
const span = (from: number, to: number) => ({ from: new Date(at(from)), to: new Date(at(to)) });

function listOf(facts: ReturnType<typeof toGateFacts>[]): GateSnapshot {
  return {
    iss: 'gridworthy',
    eventId: 'e1',
    name: 'Club day',
    asOf: at(0),
    staleAfter: at(20),
    seq: 1,
    head: 'ab',
    newestHold: null,
    days: { from: '2026-01-01T00:00:00.000Z', until: '2027-01-01T00:00:00.000Z' },
    runGroups: facts.map((_, place) => ({ runGroupId: `g${place}`, name: `Group ${place}` })),
    entries: facts.map((one, group) => ({ carNumber: '7', group, facts: one })),
  };
}

describe('the answer of the list', () => {
  test('admits only where the list admits at both ends of what the time may be', () => {
    const hour = fc.integer({ min: -2, max: 24 });
    fc.assert(
      fc.property(fc.array(arbHistory, { minLength: 1, maxLength: 2 }), hour, hour, (told, a, b) => {
        const list = listOf(told.map((history) => toGateFacts(foldClearance(history), NOTHING_WRONG)));
        const [from, to] = [Math.min(a, b), Math.max(a, b)];
        const answer = fromList(list, { carNumber: '7' }, span(from, to), nobody);
        const ends = [from, to].map((hours) => answerOffline(list, '7', new Date(at(hours))).admit);
        expect(admits(answer.kind)).toBe(ends.every(Boolean));
      }),
    );
  });

  test('never admits from the moment on that the list is stale, and says what it said', () => {
    const list = listOf([CLEAR]);
    expect(fromList(list, { carNumber: '7' }, span(10, 10), nobody).kind).toBe('go');
    const answer = fromList(list, { carNumber: '7' }, span(19, 20), nobody);
    expect(answer).toMatchObject({ kind: 'cannot-tell', why: 'stale', entries: [] });
    expect(answer.lastKnown).toMatchObject({ status: 'clear', asOf: at(0) });
    expect(fromList(list, { carNumber: '7' }, span(-1, 1), nobody)).toMatchObject({
      kind: 'cannot-tell',
      why: 'clock',
    });
  });

  test('is no where the server said no later, for the run group it said it of', () => {
    const list = listOf([CLEAR, CLEAR]);
    const known = withAnswer([], serverNo('g1'));
    const ask = (runGroupId?: string) => fromList(list, { carNumber: '7', runGroupId }, span(1, 1), refusedIn(known));
    expect(ask()).toMatchObject({ kind: 'stop', status: 'held', reason: 'Group 1: Held: oil.', validUntil: null });
    expect(ask('g1')).toMatchObject({ kind: 'stop', status: 'held' });
    expect(ask('g0')).toMatchObject({ kind: 'go' });
  });
});

test('a car that was stopped on this device is stopped, whatever the server, the list or nobody says', () => {
  const asked = { carNumber: '7' };
  const yes = { ...serverNo('g0'), admit: true, status: 'clear' as const };
  const answers = [
    fromServer({ ...yes, entries: yes.entries.map((entry) => ({ ...entry, admit: true, status: 'clear' })) }, asked),
    fromList(listOf([CLEAR, CLEAR]), asked, span(1, 1), nobody),
    cannotTell(asked, 'no-list'),
  ];
  const about = { eventId: 'e1', entryId: undefined, refused: undefined, what: 'hold' } as const;
  const stop = { ...about, key: 'k', carNumber: '7', reason: 'Leak' };
  for (const answer of answers) {
    const stopped = withStop(answer, [{ ...stop, carNumber: '07' }, stop]);
    expect(stopped).toMatchObject({ kind: 'stop', status: 'held', reason: 'Leak', source: 'device', validUntil: null });
    expect(stopped.entries.some(({ admit }) => admit)).toBe(false);
    // Numbers are exact, and what the server knows is the server's.
    expect(withStop(answer, [{ ...stop, carNumber: '07' }])).toBe(answer);
  }
});

describe('what the server refused', () => {
  test('is forgotten when the server admits, or confirmed the list after it', () => {
    const known = withAnswer([], serverNo('g1'));
    expect(stillNewer(known, Date.parse(at(2)))).toHaveLength(1);
    expect(stillNewer(known, Date.parse(at(2)) + 1)).toHaveLength(0);
    const no = serverNo('g1');
    const yes = { ...no, entries: no.entries.map((entry) => ({ ...entry, admit: true, status: 'clear' as const })) };
    expect(withAnswer(known, yes)).toEqual([]);
  });

  test('is not what this version does not know as a yes', () => {
    const body = { ...serverNo('g1'), admit: true, status: 'something-new' as 'clear' };
    expect(fromServer(body, { carNumber: '7' }).kind).toBe('stop');
    expect(fromServer({ ...body, status: 'clear', admit: false }, { carNumber: '7' }).kind).toBe('stop');
  });
});

test('two statuses admit, each of the others says no in its own kind', () => {
  const statuses: Status[] = ['clear', 'clear-with-conditions', 'held', 'expired', 'unknown', 'cannot-tell'];
  expect(statuses.map(kindOf)).toEqual(['go', 'conditions', 'stop', 'stop', 'not-listed', 'cannot-tell']);
});

const CLEAR = {
  declared: { bars: [] },
  signOff: { decision: 'accept', validFrom: at(0), validUntil: at(30) },
} as const;

function serverNo(runGroupId: string) {
  const entry = {
    entryId: 'x',
    carNumber: '7',
    runGroupId,
    runGroup: 'Group 1',
    vehicle: 'Coupe',
    admit: false,
    status: 'held' as const,
    reason: 'Held: oil.',
    validUntil: null,
    conditions: [],
    rescue: {},
  };
  return {
    eventId: 'e1',
    carNumber: '7',
    admit: false,
    status: 'held' as const,
    reason: 'Held: oil.',
    asOf: at(2),
    validUntil: null,
    similar: [],
    lookAlikes: [],
    entries: [entry],
    caution: '',
  };
}
