import { createHash } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import { canonicalJson } from '../../src/platform/canonical-json.ts';
import { check } from './check.ts';
import type { Promise_ } from './violation.ts';
import { leafHashOf, treeHead } from './check-seal.ts';
import { type Intent, newRecord, type Operation, type Recorded } from './history.ts';
import { admits, canBe, erasOf, NEW_CAR, step } from './model.ts';
import type { Truth } from './truth.ts';

const ENTRY = 'entry-1';
const AT = '2026-06-13T07:00:00.000Z';

interface Story {
  recorded: Recorded;
  truth: Truth;
  told: string[];
}

function operation(kind: Operation['kind'], from: number, details: Partial<Operation>): Operation {
  const common = { client: 'somebody', marker: '', entryId: ENTRY, outcome: 'ok', status: 201, intent: {}, ids: {} };
  return { ...common, kind, from, to: from + 10, ...details } as Operation;
}

/** One car that was submitted, claimed, accepted, held and lifted, with everything as it should be. */
function goodStory(): Story {
  const recorded = newRecord();
  recorded.operations.push(
    operation('submit', 0, { marker: 'key-1', intent: { thin: false }, ids: { inspectionId: 'i1' } }),
    operation('claim', 100, { ids: { claimId: 'c1', ticketId: 't1' } }),
    operation('sign-off', 200, {
      marker: 'key-2',
      intent: { decision: 'accept', claimId: 'c1' },
      ids: { signOffId: 's1' },
    }),
    operation('sign-off', 220, {
      marker: 'key-3',
      intent: { decision: 'accept', claimId: 'c1' },
      outcome: 'refused',
      status: 409,
    }),
    operation('hold', 300, { marker: 'hold a', ids: { holdId: 'h1' } }),
    operation('lift', 400, { marker: 'lift a', intent: { holdId: 'h1' }, ids: { holdId: 'h1' } }),
  );
  const lookup = (from: number, admit: boolean, asOf: string) =>
    recorded.lookups.push({ entryId: ENTRY, carNumber: '1', from, to: from + 5, admit, status: '', asOf });
  lookup(50, false, 'a');
  lookup(250, true, 'b');
  lookup(350, false, 'c');
  lookup(450, true, 'd');
  return { recorded, truth: goodTruth(), told: ['inspection.submitted/i1'] };
}

function goodTruth(): Truth {
  const rows: [string, Record<string, unknown>][] = [
    ['inspection.submitted', { event: { inspectionId: 'i1' } }],
    ['ticket.claimed', { claimId: 'c1' }],
    ['entry.signed-off', { claimId: 'c1', event: { signOffId: 's1' } }],
    ['hold.placed', { event: { holdId: 'h1', reason: 'hold a' } }],
    ['hold.lifted', { reason: 'lift a', event: { holdId: 'h1', requiresReinspection: false } }],
  ];
  const truth: Truth = {
    readAt: 1000,
    history: rows.map(([action, data], index) => ({
      entry_id: ENTRY,
      car_id: null,
      seq: index + 1,
      action,
      actor_id: 'a',
      actor_role: 'inspector',
      at: AT,
      data,
      prev_hash: '',
      hash: '',
    })),
    heads: [{ subject: ENTRY, seq: rows.length, hash: '' }],
    inspections: [{ id: 'i1', entry_id: ENTRY, revision: 1 }],
    signOffs: [{ id: 's1', claim_id: 'c1', decision: 'accept' }],
    holds: [{ id: 'h1', reason: 'hold a', lift_reason: 'lift a' }],
    keys: [
      { key: 'key-1', body: { inspectionId: 'i1' } },
      { key: 'key-2', body: { signOffId: 's1', inspectionId: 'i1' } },
    ],
    outbox: [{ id: 'o1', name: 'inspection.notify', payload: { inspectionId: 'i1' }, due: true, done: true }],
    carNumbers: ['1'],
    leaves: [],
    trees: [],
    toSeal: [],
    notifications: ['inspection.submitted/i1', 'entry.signed-off/s1', 'hold.placed/h1', 'hold.lifted/h1'],
    gateChecks: new Map(['1 a false', '1 b true', '1 c false', '1 d true'].map((text) => [text, 1])),
  };
  seal(truth);
  return truth;
}

/** Chains the rows again after a change, so that only the change is wrong. */
function seal(truth: Truth): void {
  let prevHash = '';
  for (const [index, row] of truth.history.entries()) {
    row.seq = index + 1;
    row.prev_hash = prevHash;
    const { entry_id: entryId, seq, action, actor_id: actorId, actor_role: actorRole, at, data } = row;
    const text = canonicalJson({ entryId, seq, action, actorId, actorRole, at, data, prevHash });
    row.hash = createHash('sha256').update(text).digest('hex');
    prevHash = row.hash;
  }
  truth.heads = [{ subject: ENTRY, seq: truth.history.length, hash: prevHash }];
  truth.toSeal = truth.history.map(({ seq, hash }) => ({ id: `r${seq}`, event_id: 'e', subject: ENTRY, seq, hash }));
  truth.leaves = truth.toSeal.map(({ id, hash }, index) => ({
    event_id: 'e',
    index,
    history_id: id,
    hash: leafHashOf(hash).toString('hex'),
  }));
  const root = treeHead(truth.leaves.map(({ hash }) => Buffer.from(hash, 'hex')));
  truth.trees = [{ event_id: 'e', size: truth.leaves.length, root: root.toString('hex') }];
}

const promises = ({ recorded, truth, told }: Story) => [
  ...new Set(check(recorded, truth, told).violations.map((violation) => violation.promise)),
];

const find = (story: Story, kind: Operation['kind']) =>
  story.recorded.operations.find((one) => one.kind === kind) as Operation;

describe('the checker on a history that is as it should be', () => {
  test('finds nothing', () => {
    expect(promises(goodStory())).toEqual([]);
  });

  test('lets an operation that was never answered have happened', () => {
    const story = goodStory();
    Object.assign(find(story, 'lift'), { outcome: 'unknown', status: 0, to: Infinity, ids: {} });
    expect(promises(story)).toEqual([]);
  });

  test('lets another claim a car that was sent back to the line', () => {
    const story = goodStory();
    story.recorded.operations.push(operation('claim', 60, { ids: { claimId: 'c0', ticketId: 't0' } }));
    const [, claimed] = story.truth.history as [never, Truth['history'][number]];
    const row = (action: string, data: Record<string, unknown>) => ({ ...claimed, action, data });
    const before = [row('ticket.claimed', { claimId: 'c0' }), row('entry.sent-back', { event: { type: 'sent-back' } })];
    story.truth.history.splice(1, 0, ...before);
    seal(story.truth);
    expect(promises(story)).toEqual([]);
  });

  test('lets it not have happened', () => {
    const story = goodStory();
    story.recorded.operations.push(
      operation('hold', 500, { marker: 'hold b', outcome: 'unknown', status: 0, to: Infinity }),
    );
    expect(promises(story)).toEqual([]);
  });
});

type Spoil = (story: Story) => void;

const spoiled: { what: string; promise: Promise_; spoil: Spoil }[] = [
  {
    what: 'an acknowledged hold that is gone',
    promise: 'acknowledged write is there once',
    spoil: ({ truth }) => {
      truth.history = truth.history.filter(({ action }) => !action.startsWith('hold.'));
      truth.holds = [];
      seal(truth);
    },
  },
  {
    what: 'an acknowledged submission that is there twice',
    promise: 'acknowledged write is there once',
    spoil: ({ truth }) => {
      truth.history.push({
        ...(truth.history[0] as Truth['history'][number]),
        data: { event: { inspectionId: 'i2' } },
      });
      truth.inspections.push({ id: 'i2', entry_id: ENTRY, revision: 2 });
      truth.keys.push({ key: 'key-1', body: { inspectionId: 'i2' } });
      seal(truth);
    },
  },
  {
    what: 'a refused sign-off that happened',
    promise: 'refused write did not happen',
    spoil: ({ truth }) => {
      truth.keys = truth.keys.map(({ key, body }) => ({ key: key === 'key-2' ? 'key-3' : key, body }));
    },
  },
  {
    what: 'a hold that nobody asked for',
    promise: 'nothing happened that nobody asked for',
    spoil: ({ truth }) => {
      truth.history.push({
        ...(truth.history[3] as Truth['history'][number]),
        data: { event: { holdId: 'h9', reason: 'out of thin air' } },
      });
      truth.holds.push({ id: 'h9', reason: 'out of thin air', lift_reason: null });
      seal(truth);
    },
  },
  {
    what: 'a history in which the lift stands before the hold',
    promise: 'history agrees with the order in time',
    spoil: ({ truth }) => {
      const [a, b, c, d, e] = truth.history as [never, never, never, never, never];
      truth.history = [a, b, c, e, d];
      seal(truth);
    },
  },
  {
    what: 'a changed row',
    promise: 'chain is intact',
    spoil: ({ truth }) => {
      (truth.history[3] as Truth['history'][number]).actor_id = 'somebody else';
    },
  },
  {
    what: 'a missing last row',
    promise: 'chain is intact',
    spoil: ({ truth }) => {
      truth.history.pop();
    },
  },
  {
    what: 'a ticket that was claimed while another held it',
    promise: 'ticket is held once',
    spoil: ({ recorded, truth }) => {
      recorded.operations.push(operation('claim', 120, { ids: { claimId: 'c2', ticketId: 't1' } }));
      truth.history.splice(2, 0, {
        ...(truth.history[1] as Truth['history'][number]),
        data: { claimId: 'c2' },
      });
      seal(truth);
    },
  },
  {
    what: 'two inspectors who were both given the same ticket',
    promise: 'ticket is held once',
    spoil: ({ recorded }) => {
      recorded.operations.push(
        operation('claim', 120, { ids: { claimId: 'c2', ticketId: 't1' }, client: 'somebody else' }),
      );
    },
  },
  {
    what: 'two sign-offs of one claim',
    promise: 'sign-off is once per claim',
    spoil: ({ truth }) => {
      truth.signOffs.push({ id: 's2', claim_id: 'c1', decision: 'accept' });
    },
  },
  {
    what: 'a yes at the gate after an acknowledged hold',
    promise: 'gate never admits against the history',
    spoil: ({ recorded, truth }) => {
      recorded.lookups.push({ entryId: ENTRY, carNumber: '1', from: 320, to: 330, admit: true, status: '', asOf: 'e' });
      truth.gateChecks.set('1 e true', 1);
    },
  },
  {
    what: 'a no at the gate long after the lift',
    promise: 'gate never refuses against the history',
    spoil: ({ recorded, truth }) => {
      recorded.lookups.push({
        entryId: ENTRY,
        carNumber: '1',
        from: 500,
        to: 510,
        admit: false,
        status: '',
        asOf: 'e',
      });
      truth.gateChecks.set('1 e false', 1);
    },
  },
  {
    what: 'a yes that is not in the log',
    promise: 'gate answer is in the log',
    spoil: ({ truth }) => {
      truth.gateChecks.delete('1 d true');
    },
  },
  {
    what: 'a row that was never sealed',
    promise: 'every row is sealed once',
    spoil: ({ truth }) => {
      truth.leaves.pop();
      const root = treeHead(truth.leaves.map(({ hash }) => Buffer.from(hash, 'hex')));
      truth.trees = [{ event_id: 'e', size: truth.leaves.length, root: root.toString('hex') }];
    },
  },
  {
    what: 'two leaves that changed places',
    promise: 'every row is sealed once',
    spoil: ({ truth }) => {
      const [a, b, ...rest] = truth.leaves as [Truth['leaves'][number], Truth['leaves'][number]];
      truth.leaves = [{ ...b, index: 0 }, { ...a, index: 1 }, ...rest];
    },
  },
  {
    what: 'a head that is not the one of the leaves',
    promise: 'every row is sealed once',
    spoil: ({ truth }) => {
      truth.trees = [{ event_id: 'e', size: truth.leaves.length, root: '00'.repeat(32) }];
    },
  },
  {
    what: 'half a file that was imported',
    promise: 'import is all or nothing',
    spoil: ({ recorded, truth }) => {
      recorded.operations.push(
        operation('import', 600, { outcome: 'unknown', status: 0, intent: { carNumbers: ['A1', 'A2'] } }),
      );
      truth.carNumbers.push('A1');
    },
  },
  {
    what: 'a file that was acknowledged and is not there',
    promise: 'acknowledged write is there once',
    spoil: ({ recorded }) => {
      recorded.operations.push(operation('import', 600, { status: 200, intent: { carNumbers: ['A1', 'A2'] } }));
    },
  },
  {
    what: 'a file that was refused and is there',
    promise: 'refused write did not happen',
    spoil: ({ recorded, truth }) => {
      recorded.operations.push(
        operation('import', 600, { outcome: 'refused', status: 409, intent: { carNumbers: ['A1'] } }),
      );
      truth.carNumbers.push('A1');
    },
  },
  {
    what: 'a car that two answers of one file made twice',
    promise: 'acknowledged write is there once',
    spoil: ({ recorded, truth }) => {
      recorded.operations.push(operation('import', 600, { status: 200, intent: { carNumbers: ['A1'] } }));
      truth.carNumbers.push('A1', 'A1');
    },
  },
  {
    what: 'a job that never ran',
    promise: 'outbox row is done at least once',
    spoil: ({ truth }) => {
      truth.outbox.push({ id: 'o2', name: 'entrant.tell', payload: {}, due: true, done: false });
    },
  },
  {
    what: 'a message that was not sent',
    promise: 'entrant is told exactly once',
    spoil: ({ truth }) => {
      truth.notifications.pop();
    },
  },
  {
    what: 'a message that was sent twice',
    promise: 'entrant is told exactly once',
    spoil: ({ told }) => {
      told.push('inspection.submitted/i1');
    },
  },
];

describe('the checker on a history with one thing wrong', () => {
  test.each(spoiled)('finds $what', ({ promise, spoil }) => {
    const story = goodStory();
    spoil(story);
    expect(promises(story)).toContain(promise);
  });
});

describe('the model of a car', () => {
  type Step = readonly [kind: Operation['kind'], intent: Intent, holdId: string];
  const after = (...steps: Step[]) => admits(steps.reduce((state, rest) => step(state, ...rest), NEW_CAR));

  test('admits what was submitted and accepted, and nothing else', () => {
    expect(after()).toBe(false);
    expect(after(['submit', {}, ''])).toBe(false);
    expect(after(['submit', {}, ''], ['sign-off', { decision: 'accept' }, ''])).toBe(true);
    expect(after(['submit', { thin: true }, ''], ['sign-off', { decision: 'accept' }, ''])).toBe(false);
    expect(after(['submit', {}, ''], ['sign-off', { decision: 'refuse' }, ''])).toBe(false);
    expect(after(['submit', {}, ''], ['sign-off', { decision: 'accept' }, ''], ['submit', {}, ''])).toBe(false);
  });

  test('holds until every hold is lifted, and sends through the line again where the lift asks for it', () => {
    const accepted = [
      ['submit', {}, ''],
      ['sign-off', { decision: 'accept' }, ''],
      ['hold', {}, 'a'],
      ['hold', {}, 'b'],
    ] satisfies Step[];
    expect(after(...accepted, ['lift', {}, 'a'])).toBe(false);
    expect(after(...accepted, ['lift', {}, 'a'], ['lift', {}, 'b'])).toBe(true);
    expect(after(...accepted, ['lift', { requireReinspection: true }, 'a'], ['lift', {}, 'b'])).toBe(false);
  });
});

// Herlihy and Wing, "Linearizability: a correctness condition for concurrent objects", ACM TOPLAS 12(3), 1990 (from
// memory): a read beside a write may see either value; one that begins after the write was answered sees the new one.
describe('what a lookup may see', () => {
  const hold = { kind: 'hold', intent: {}, holdId: 'a', from: 30, to: 40 } as const;
  const { eras } = erasOf([
    { kind: 'submit', intent: {}, holdId: '', from: 0, to: 5 },
    { kind: 'sign-off', intent: { decision: 'accept' }, holdId: '', from: 10, to: 20 },
    hold,
  ]);

  test.each([
    { when: 'before the sign-off', from: 6, to: 9, yes: false, no: true },
    { when: 'beside the sign-off', from: 12, to: 15, yes: true, no: true },
    { when: 'after it', from: 21, to: 25, yes: true, no: false },
    { when: 'beside the hold', from: 35, to: 36, yes: true, no: true },
    { when: 'after the hold was answered', from: 41, to: 50, yes: false, no: true },
    { when: 'begun before the hold was answered', from: 39, to: 90, yes: true, no: true },
  ])('$when: yes $yes, no $no', ({ from, to, yes, no }) => {
    expect([canBe(eras, true, { from, to }), canBe(eras, false, { from, to })]).toEqual([yes, no]);
  });

  test('a change that was never answered is bounded by what follows it in the history', () => {
    const unknown = { kind: 'hold', intent: {}, holdId: 'a', from: 30, to: Infinity } as const;
    const lift = { kind: 'lift', intent: {}, holdId: 'a', from: 60, to: 70 } as const;
    const bounded = erasOf([{ kind: 'submit', intent: {}, holdId: '', from: 0, to: 5 }, unknown, lift]);
    expect(bounded.impossibleAt).toBeUndefined();
    expect(bounded.eras.map(({ from, to }) => [from, to])).toEqual([
      [-Infinity, 5],
      [0, 70],
      [30, 70],
      [60, Infinity],
    ]);
  });
});

test('a head is the one of the test vectors of RFC 6962 that its authors published with their tree', () => {
  // Leaf hash of the empty string, SHA-256(0x00): a row's own hash is hexadecimal, so the empty text is the empty leaf.
  expect(leafHashOf('').toString('hex')).toBe('6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d');
});
