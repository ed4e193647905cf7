import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CATALOGUE, findItem } from '../../../src/domain/catalogue/catalogue.ts';
import { POSITION_KEYS } from '../../../src/domain/catalogue/item.ts';
import { readAnswer } from '../../../src/domain/declaration/read-answer.ts';
import type { CatalogueItem } from '../../../src/web/api/operations.ts';
import { wantsRenewal } from '../../../src/web/line/state/claims.ts';
import {
  type Worksheet,
  isLookedAt,
  type Point,
  withPlace,
  withReadWith,
} from '../../../src/web/line/state/worksheet.ts';
import {
  blockersOf,
  dueAt,
  endOf,
  rejectedAt,
  rejectedParts,
  rejectionOf,
} from '../../../src/web/line/state/rejection.ts';
import { buildChecks, findCell, type Items, sectionsOf } from '../../../src/web/line/state/points.ts';
import {
  isMeasurable,
  type NumberType,
  parseNumber,
  partsOf,
  readTyped,
  stepOf,
  stepped,
  sureOf,
} from '../../../src/web/line/state/read-typed.ts';
import { countsOf, signOffBody, summaryText } from '../../../src/web/line/state/sign-off.ts';

/** The catalogue as the API shows it; what the page does not read is left out. */
const ITEMS: Items = new Map(
  CATALOGUE.map((item) => {
    const positions = item.positions === undefined ? {} : { positions: POSITION_KEYS[item.positions] };
    return [item.key, { ...item, ...positions, cautions: [] } as unknown as CatalogueItem];
  }),
);
const itemOf = (key: string): CatalogueItem => {
  const item = ITEMS.get(key);
  if (item === undefined) throw new Error(`no item ${key}`);
  return item;
};

const point = (item: string, more: Partial<Point> = {}): Point => ({
  item,
  label: findItem(item)?.label ?? item,
  why: 'why',
  asked: 'usual',
  ...more,
});

const POINTS: readonly Point[] = [
  point('wheel.clean', { position: 'RL', asked: 'rule', ruleId: 'wheel-clean', why: 'too dirty' }),
  point('brake-fluid.measured-boiling-point', { asked: 'rule', ruleId: 'boils', why: 'not measured' }),
  point('brake.pedal', { asked: 'felt', why: 'long pedal' }),
  point('pad.thickness', { position: 'FL.in', declared: { value: 9.4 } }),
  point('pad.thickness', { position: 'FL.out', declared: { value: 9.8 } }),
  point('engine.leaks', { position: 'coolant' }),
];

const FINDING = {
  effect: 'inspect',
  counts: 'inspect',
  basis: { kind: 'common-practice' },
  message: '',
  fix: '',
} as const;

function worksheet(changes: Partial<Worksheet> = {}): Worksheet {
  return {
    claimId: 'claim',
    holder: 'Mara',
    eventId: 'event',
    claim: {
      instruments: [],
      refusals: [],
      sessions: [],
      claimId: 'claim',
      ticketId: 'ticket',
      entryId: 'entry',
      inspectionId: 'inspection',
      carNumber: '42',
      runGroup: 'Novice',
      vehicle: 'Saloon, blue',
      revision: 1,
      verdict: 'to-inspect',
      tally: { all: 2, met: 0, bar: 0, inspect: 2, advise: 0 },
      findings: [
        { ...FINDING, ruleId: 'wheel-clean', title: 'Dirt', position: 'RL', result: 'not-met', items: ['wheel.clean'] },
        {
          ...FINDING,
          ruleId: 'boils',
          title: 'Boiling point',
          clearedBy: 'measure',
          result: 'unanswerable',
          effect: 'bar',
          items: ['brake-fluid.measured-boiling-point'],
        },
      ],
      pointsToCheck: POINTS,
      photos: [],
      concessions: [],
      leaseMinutes: 15,
      expiresAt: '2026-06-13T06:00:00.000Z',
      caution: '',
    },
    expiresAt: '2026-06-13T06:00:00.000Z',
    leaseMinutes: 15,
    places: {},
    conditions: [],
    note: '',
    sticker: '',
    ...changes,
  };
}

const NOW = Date.parse('2026-06-13T05:50:00.000Z');
const keysOf = (one: Worksheet, decision: 'accept' | 'accept-with-conditions' | 'refuse') =>
  blockersOf(one, decision, ITEMS, NOW).map(({ key }) => key);

describe('what is typed', () => {
  test('a comma is a decimal point, and nothing else is a number', () => {
    expect(parseNumber(' 5,5 ')).toBe(5.5);
    expect(parseNumber('-1.25')).toBe(-1.25);
    for (const text of ['', '5,', '1e3', '5.5.5', '1 000', 'five', 'NaN', 'Infinity', '0x10']) {
      expect(parseNumber(text), text).toBeUndefined();
    }
  });

  test('is sent only when the server can read it: by the reading of declarations itself', () => {
    const type = { kind: 'number', unit: 'mm', min: 0, max: 40, decimals: 1 } as const;
    fc.assert(
      fc.property(fc.oneof(fc.double({ noNaN: true }).map(String), fc.string({ maxLength: 6 })), (text) => {
        const read = readTyped(itemOf('pad.thickness'), { value: text });
        if (read.ok) expect(readAnswer(type, read.value)).toMatchObject({ ok: true });
      }),
    );
    expect(readTyped(itemOf('pad.thickness'), { value: '40.1' })).toMatchObject({
      ok: false,
      fault: { key: 'fault.range', values: { min: 0, max: 40, unit: 'mm' } },
    });
  });

  test('an answer of parts needs those that are required, and leaves out what is empty', () => {
    expect(readTyped(itemOf('steering.free-play'), { wheelDiameter: '360' })).toMatchObject({
      ok: false,
      fault: { part: 'play', key: 'fault.missing' },
    });
    expect(readTyped(itemOf('wheel.bent'), { bent: 'yes', runout: '' })).toEqual({ ok: true, value: { bent: true } });
  });

  test('steps begin at what was declared and never leave what is possible', () => {
    const pad = itemOf('pad.thickness').answer;
    if (pad.kind !== 'number') throw new Error('not a number');
    expect(stepOf(pad)).toBe(0.5);
    expect(stepped(pad, '', 9.4, -1)).toBe('8.9');
    expect(stepped(pad, '8,9', 9.4, 1)).toBe('9.4');
    expect(stepped(pad, '0', 9.4, -1)).toBe('0');
    expect(stepped(pad, '', undefined, 1)).toBe('0');
    expect(stepOf({ ...pad, decimals: 2 })).toBe(0.05);
    fc.assert(
      fc.property(fc.constantFrom(...CATALOGUE), fc.double({ noNaN: true }), fc.boolean(), ({ answer }, from, up) => {
        if (answer.kind !== 'number') return;
        const after = Number(stepped(answer, String(from), undefined, up ? 1 : -1));
        expect(after >= answer.min && after <= answer.max).toBe(true);
      }),
    );
  });

  test('a whole-car point of an item that is asked by place has only marks', () => {
    expect(isMeasurable(itemOf('pad.thickness'), undefined)).toBe(false);
    expect(isMeasurable(itemOf('pad.thickness'), 'FL')).toBe(false);
    expect(isMeasurable(itemOf('pad.thickness'), 'FL.in')).toBe(true);
    expect(isMeasurable(itemOf('brake.pedal'), undefined)).toBe(true);
    expect(isMeasurable(undefined, undefined)).toBe(false);
  });
});

describe('checks', () => {
  test('a place that was measured and marked has two; what does not apply was not looked at', () => {
    const places = {
      'pad.thickness@FL.in': { typed: { value: '2,5' }, mark: 'not-ok', note: ' thin \n here ' },
      'wheel.clean@RL': { mark: 'ok' },
      'engine.leaks@coolant': { mark: 'not-applicable', note: 'none fitted' },
    } as const;
    const { checks, cells, faults } = buildChecks(worksheet({ places }), ITEMS);
    expect(checks).toEqual([
      { item: 'wheel.clean', position: 'RL', result: 'ok' },
      { item: 'pad.thickness', position: 'FL.in', value: { value: 2.5, unit: 'mm' }, note: 'thin here' },
      { item: 'pad.thickness', position: 'FL.in', result: 'not-ok' },
    ]);
    expect(cells).toEqual(['wheel.clean@RL', 'pad.thickness@FL.in', 'pad.thickness@FL.in']);
    expect(faults).toEqual([]);
    expect(isLookedAt(places['engine.leaks@coolant'])).toBe(false);
    expect(countsOf(worksheet({ places }))).toEqual({ ok: 1, notOk: 1, measured: 1, notSeen: 4 });
  });

  test('what cannot be read is a fault at its place, and never a check', () => {
    const built = buildChecks(worksheet({ places: { 'pad.thickness@FL.in': { typed: { value: 'x' } } } }), ITEMS);
    expect(built.checks).toEqual([]);
    expect(built.faults).toMatchObject([{ cell: 'pad.thickness@FL.in', fault: { key: 'fault.number' } }]);
  });
});

describe('what a value was read with', () => {
  const instruments = [{ name: 'Calliper 2', reads: 'pads', uncertainty: 0.2, unit: 'mm' }] as const;
  const typed = { value: '4.2' };

  test('goes with its value: by name, or as another one with how far it may be off', () => {
    const places = {
      'pad.thickness@FL.in': { typed, readWith: { name: 'Calliper 2' } },
      'pad.thickness@FL.out': { typed, readWith: { name: '*', own: ' My  own ', uncertainty: '0,05' } },
    };
    expect(buildChecks(worksheet({ places }), ITEMS).checks).toMatchObject([
      { position: 'FL.in', readWith: { name: 'Calliper 2' } },
      { position: 'FL.out', readWith: { name: 'My own', uncertainty: 0.05, unit: 'mm' } },
    ]);
    const half = { 'pad.thickness@FL.in': { typed, readWith: { name: '*', own: 'My own' } } };
    expect(buildChecks(worksheet({ places: half }), ITEMS).faults).toMatchObject([
      { fault: { key: 'fault.readWith' } },
    ]);
  });

  test('follows round the car, but for a place that has another one', () => {
    const cells = ['a', 'b', 'c'];
    const sheet = worksheet({ places: { c: { readWith: { name: 'other' } } } });
    const { places } = withReadWith(sheet, cells, 'a', { name: 'Calliper 2' });
    expect(cells.map((cell) => places[cell]?.readWith?.name)).toEqual(['Calliper 2', 'Calliper 2', 'other']);
  });

  test('says how likely the true value is inside the limit, and from where on it counts', () => {
    const item = ITEMS.get('pad.thickness');
    const [part] = item === undefined ? [] : partsOf(item);
    if (part?.type.kind !== 'number') throw new Error('no number');
    const limits = [{ title: 'Pad', unit: 'mm', atLeast: 4, decision: 'guarded' }] as const;
    const at = (readWith: { name: string } | undefined) =>
      sureOf({ name: part.name, type: part.type as NumberType }, { limits, instruments }, { typed, readWith });
    // margin 0.2 mm, u 0.1 mm: Φ(2) = 0.9772, tables of the normal distribution
    expect(at({ name: 'Calliper 2' })).toMatchObject([{ uncertainty: 0.2, from: 4.2 }]);
    expect(at({ name: 'Calliper 2' })[0]?.conformity).toBeCloseTo(0.9772, 4);
    // a gauge in steps of 1 mm, u 0.3 mm: Φ(2/3) = 0.7475
    expect(at(undefined)[0]?.conformity).toBeCloseTo(0.7475, 4);
    expect(at({ name: '*' })).toEqual([]);
  });
});

describe('points', () => {
  test('what is asked for comes first, with its reasons; the rest by area', () => {
    const { first, usual } = sectionsOf(POINTS, ITEMS);
    expect(first.map(({ item, why }) => [item, why])).toEqual([
      ['wheel.clean', ['too dirty']],
      ['brake-fluid.measured-boiling-point', ['not measured']],
      ['brake.pedal', ['long pedal']],
    ]);
    expect(usual.map(({ area, groups }) => [area, groups.map(({ points }) => points.length)])).toEqual([
      ['brake-hardware', [2]],
      ['engine', [1]],
    ]);
  });

  test('what is looked at on every car stands before all else, by the points of the rules', () => {
    const always = { id: 'brake-pedal', title: 'Pedal held', seconds: 15 };
    const asked = [
      point('brake.pedal', { asked: 'always', always, why: 'Pedal held' }),
      point('brake.lights', { asked: 'always', always, why: 'One lamp is out', ruleId: 'lights' }),
    ];
    const sections = sectionsOf([...asked, ...POINTS.slice(0, 1)], ITEMS);
    expect(sections.always.map(({ label, why, points }) => [label, why, points.length])).toEqual([
      ['Pedal held', ['One lamp is out'], 2],
    ]);
    expect(sections.first.map(({ item }) => item)).toEqual(['wheel.clean']);
  });

  test('what the server names is found at its place, around it or within it', () => {
    expect(findCell(POINTS, { items: ['pad.thickness'], position: 'FL.out' })).toBe('pad.thickness@FL.out');
    expect(findCell(POINTS, { items: ['pad.thickness'], position: 'FL' })).toBe('pad.thickness@FL.in');
    expect(findCell(POINTS, { items: ['brake.pedal'] })).toBe('brake.pedal');
    expect(findCell(POINTS, { items: ['unknown'] })).toBeUndefined();
  });
});

describe('what hinders', () => {
  test('an acceptance: points nobody looked at, what only a measurement answers, the sticker', () => {
    expect(keysOf(worksheet(), 'accept')).toEqual(['hinders.unchecked', 'hinders.needs-value', 'hinders.sticker']);
    const looked = withPlace(worksheet({ sticker: 'A-1' }), 'wheel.clean@RL', { mark: 'ok' });
    // Looking does not make known what was not measured.
    const seen = withPlace(looked, 'brake-fluid.measured-boiling-point', { mark: 'ok' });
    expect(keysOf(seen, 'accept')).toEqual(['hinders.needs-value']);
    const measured = withPlace(seen, 'brake-fluid.measured-boiling-point', { typed: { value: '240' } });
    expect(keysOf(measured, 'accept')).toEqual([]);
    // That nobody saw it is no measurement, here as at the server.
    const unseen = withPlace(seen, 'brake-fluid.measured-boiling-point', { typed: { value: 'not-seen' } });
    expect(keysOf(unseen, 'accept')).toContain('hinders.needs-value');
    expect(keysOf(withPlace(measured, 'brake.pedal', { mark: 'not-ok' }), 'accept')).toEqual(['hinders.not-ok']);
    expect(keysOf(withPlace(looked, 'wheel.clean@RL', { mark: 'not-applicable' }), 'accept')).toContain(
      'hinders.unchecked',
    );
    expect(keysOf({ ...measured, sticker: 'A 1' }, 'accept')).toEqual(['hinders.sticker-form']);
  });

  test('an acceptance without what is looked at on every car, once or place by place', () => {
    const always = { id: 'tyres', title: 'All four tyres', seconds: 20 };
    const wheels = ['FL', 'FR', 'RL', 'RR'].map((position) => point('tyre.cuts-or-bulges', { position }));
    const claim = { ...worksheet().claim, findings: [] };
    const pointsToCheck = [point('tyre.cuts-or-bulges', { asked: 'always' as const, always }), ...wheels];
    const open = worksheet({ sticker: 'A-1', claim: { ...claim, pointsToCheck } });
    expect(keysOf(open, 'accept')).toEqual(['hinders.unchecked']);
    expect(keysOf(withPlace(open, 'tyre.cuts-or-bulges', { mark: 'ok' }), 'accept')).toEqual([]);
    const byPlace = ['FL', 'FR', 'RL', 'RR'].reduce(
      (one, position) => withPlace(one, `tyre.cuts-or-bulges@${position}`, { mark: 'ok' }),
      open,
    );
    expect(keysOf(byPlace, 'accept')).toEqual([]);
  });

  test('a refusal needs a reason and nothing else; a value that cannot be hinders everything', () => {
    expect(keysOf(worksheet(), 'refuse')).toEqual(['hinders.note']);
    expect(keysOf(worksheet({ note: 'Leaks.' }), 'refuse')).toEqual([]);
    const odd = withPlace(worksheet({ note: 'Leaks.' }), 'pad.thickness@FL.in', { typed: { value: '99' } });
    expect(keysOf(odd, 'refuse')).toEqual(['hinders.value']);
  });

  test('conditions: at least one, with words, due ahead', () => {
    const with_ = (more: Partial<Worksheet>) =>
      keysOf(worksheet({ sticker: 'A', ...more }), 'accept-with-conditions').filter((key) => key.includes('condition'));
    expect(with_({})).toEqual(['hinders.conditions']);
    expect(with_({ conditions: [{ id: '1', text: ' ', due: 'none' }] })).toEqual(['hinders.condition-text']);
    expect(with_({ conditions: [{ id: '1', text: 'tape', due: 'none' }] })).toEqual([]);
    const first = { id: '1', text: 'tape', due: 'first-session' } as const;
    expect(with_({ conditions: [first], firstSessionAt: '2026-06-13T05:00:00.000Z' })).toEqual([
      'hinders.condition-due',
    ]);
    expect(with_({ conditions: [first], firstSessionAt: '2026-06-13T07:00:00.000Z' })).toEqual([]);
    expect(with_({ conditions: [{ ...first, due: 'time', time: '' }] })).toEqual(['hinders.condition-due']);
    expect(dueAt(first, '2026-06-13T07:00:00.000Z')).toBe('2026-06-13T07:00:00.000Z');
  });
});

test('a sign-off has what its decision takes, and nothing that the server refuses with it', () => {
  const full = worksheet({
    sticker: ' A-1 ',
    note: ' fine ',
    conditions: [{ id: '1', text: ' tape ', due: 'none' }],
  });
  expect(signOffBody(full, 'accept', ITEMS)).toEqual({
    decision: 'accept',
    checks: [],
    stickerNumber: 'A-1',
    note: 'fine',
  });
  expect(signOffBody(full, 'accept-with-conditions', ITEMS).conditions).toEqual([{ text: 'tape' }]);
  expect(signOffBody(full, 'refuse', ITEMS)).toEqual({ decision: 'refuse', checks: [], note: 'fine' });
});

describe('a refusal of the server', () => {
  const problem = {
    type: '',
    title: '',
    status: 422,
    instance: '',
    requestId: '',
    detail: 'Open.',
    code: 'points-not-checked',
  };

  test('goes to the places that it names', () => {
    const places = { 'wheel.clean@RL': { mark: 'ok' }, 'pad.thickness@FL.out': { mark: 'ok' } } as const;
    const refusal = rejectionOf({
      ...problem,
      errors: [
        { pointer: '/checks/1/value', code: 'x', detail: 'odd' },
        { pointer: '/stickerNumber', code: 'taken', detail: 'taken' },
        { pointer: '/conditions/0/dueAt', code: 'past', detail: 'past' },
      ],
      standing: [
        { ruleId: 'boils', title: 'Boiling point', message: 'low', items: ['brake-fluid.measured-boiling-point'] },
        { item: 'brake.pedal' },
      ],
    });
    const one = worksheet({ places, refusal, conditions: [{ id: 'c', text: 'tape', due: 'none' }] });
    expect(rejectedParts(one, refusal, ITEMS)).toEqual([
      { detail: 'odd', target: { kind: 'place', cell: 'pad.thickness@FL.out' } },
      { detail: 'taken', target: { kind: 'sticker' } },
      { detail: 'past', target: { kind: 'condition', id: 'c' } },
      { detail: 'Boiling point: low', target: { kind: 'place', cell: 'brake-fluid.measured-boiling-point' } },
      { detail: findItem('brake.pedal')?.label, target: { kind: 'place', cell: 'brake.pedal' } },
    ]);
    expect([...rejectedAt(one, ITEMS).keys()]).toContain('brake.pedal');
    // What is changed is not refused any more.
    expect(withPlace(one, 'brake.pedal', { mark: 'ok' }).refusal).toBeUndefined();
  });

  test('tells a claim that is over from everything else', () => {
    expect(endOf(problem)).toBeUndefined();
    expect(endOf({ ...problem, code: 'state-moved-on', currentState: 'expired', claimedBy: 'Jo' })).toEqual({
      state: 'expired',
      by: 'Jo',
      detail: 'Open.',
    });
    expect(endOf({ ...problem, code: 'not-found' })?.state).toBe('unknown');
  });
});

test('a lease is renewed from half time on, when somebody has worked since it began', () => {
  const lease = { expiresAt: '2026-06-13T06:00:00.000Z', leaseMinutes: 10 };
  const at = (time: string) => Date.parse(`2026-06-13T${time}.000Z`);
  const wants = (now: string, workedAt: string) => wantsRenewal(lease, { now: at(now), workedAt: at(workedAt) });
  expect(wants('05:54:59', '05:54:00')).toBe(false);
  expect(wants('05:55:00', '05:51:00')).toBe(true);
  expect(wants('05:59:00', '05:49:57')).toBe(false);
  // Over, and back at work: worth a try.
  expect(wants('06:03:00', '06:03:00')).toBe(true);
});

test('what was entered can be read out line by line', () => {
  const places = {
    'pad.thickness@FL.in': { typed: { value: '2.5' }, note: 'thin' },
    'brake.pedal': { mark: 'not-ok' },
  } as const;
  const words = {
    place: ({ item, position }: Point) => `${item} ${position ?? ''}`.trim(),
    mark: (mark: string) => mark,
    sticker: (number: string) => `sticker ${number}`,
    condition: (text: string) => `condition ${text}`,
    note: (text: string) => `note ${text}`,
  };
  expect(summaryText(worksheet({ places, sticker: 'A-1', note: 'Go home.' }), ITEMS, words)).toBe(
    [
      '42, Novice, Saloon, blue',
      'brake.pedal: not-ok',
      'pad.thickness FL.in: 2.5 mm (thin)',
      'sticker A-1',
      'note Go home.',
    ].join('\n'),
  );
});
