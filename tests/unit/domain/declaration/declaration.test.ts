import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { CATALOGUE } from '../../../../src/domain/catalogue/catalogue.ts';
import {
  type AnswerType,
  type Item,
  POSITION_KEYS,
  type SimpleAnswerType,
} from '../../../../src/domain/catalogue/item.ts';
import {
  type AnswerFault,
  parseAnswers,
  parseCellKey,
  RawAnswers,
} from '../../../../src/domain/declaration/declaration.ts';
import { arbAnswer } from '../../../support/arbitraries.ts';

function answersOf(raw: unknown) {
  const parsed = parseAnswers(raw);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.answers;
}

function faultsOf(raw: unknown): readonly AnswerFault[] {
  const parsed = parseAnswers(raw);
  return parsed.ok ? [] : parsed.faults;
}

const places = (raw: unknown): string[] => faultsOf(raw).map((fault) => `${fault.pointer} ${fault.code}`);

describe('parseAnswers', () => {
  it('names cells by key, position and field', () => {
    const answers = answersOf({
      'oil.grade': ' 15W-50 ',
      'pad.thickness': { 'FL.in': 5.5, 'RR.out': { value: 0.25, unit: 'inch' } },
      'exhaust.sound-level': { level: 92, distance: 20, method: 'drive-by' },
      'wheel-play.nine-three': { FL: { felt: 'none' } },
      'brake.lights': true,
      'debrief.symptoms': ['wanders', 'vibration', 'wanders'],
      'oil.changed-on': '2026-01-31',
    });
    expect(Object.fromEntries(answers)).toEqual({
      'oil.grade': '15W-50',
      'pad.thickness@FL.in': 5.5,
      // 0.25 in is 6.35 mm, kept to the item's one decimal
      'pad.thickness@RR.out': 6.4,
      'exhaust.sound-level#level': 92,
      'exhaust.sound-level#distance': 20,
      'exhaust.sound-level#method': 'drive-by',
      'wheel-play.nine-three@FL#felt': 'none',
      'brake.lights': true,
      'debrief.symptoms': ['vibration', 'wanders'],
      'oil.changed-on': '2026-01-31',
    });
  });

  it.each([
    ['brake-fluid.wet-boiling-point', 311, '°F', 155, '49 CFR 571.116, DOT 4 wet'],
    ['coolant.cap-pressure', 15, 'psi', 103, 'arithmetic, 15 psi is 103.4 kPa'],
    ['hv.isolation', 0.5, 'kohm/V', 500, 'definition'],
    ['oil.level.reading', 50, '%', 0.5, 'definition'],
  ])('converts %s %d %s to %d (%s)', (key, value, unit, expected) => {
    expect(answersOf({ [key]: { value, unit } }).get(key)).toBe(expected);
  });

  it('converts wheel torque by the published factor: 79.6 lbf·ft is 107.9 N·m', () => {
    const raw = { 'wheel.torque': { FL: { value: 79.6, unit: 'lbf.ft' } } };
    expect(answersOf(raw).get('wheel.torque@FL')).toBe(108);
  });

  it('keeps null and undefined as not answered, at every depth', () => {
    const answers = answersOf({
      'oil.grade': null,
      'oil.changed-on': undefined,
      'pad.thickness': { 'FL.in': null },
      'tyre.tread': null,
      'full-inspection.done-on': { date: '2026-01-01', by: null },
      'wheel-play.nine-three': { FL: null },
    });
    expect([...answers.keys()]).toEqual(['full-inspection.done-on#date']);
  });

  it('names every fault with its place and changes nothing else', () => {
    expect(
      places({
        'oil.grade': 5,
        'oil.changed-on': '2/4/95',
        'pad.thickness': { 'FL.in': 'thin', XX: 5, 'FR.in': 41, 'RL.in': { value: 1, unit: 'kPa' } },
        'tyre.tread': 4,
        'brake.pedal': 'soft',
        'brake.lights': 'yes',
        'exhaust.sound-level': { level: { value: 1, unit: 'furlong' }, method: 'guess', colour: 'red' },
        'debrief.symptoms': ['wanders', 'sings', 7],
        'tyre.rating': { FL: 'W91' },
        'full-inspection.done-on': {},
        'a/b~c': 1,
      }),
    ).toEqual([
      '/oil.grade wrong-type',
      '/oil.changed-on bad-date',
      '/pad.thickness/FL.in wrong-type',
      '/pad.thickness/XX unknown-position',
      '/pad.thickness/FR.in impossible-value',
      '/pad.thickness/RL.in/unit unit-mismatch',
      '/tyre.tread wrong-type',
      '/brake.pedal unknown-option',
      '/brake.lights wrong-type',
      '/exhaust.sound-level/colour unknown-field',
      '/exhaust.sound-level/level/unit unknown-unit',
      '/exhaust.sound-level missing-field',
      '/exhaust.sound-level/method unknown-option',
      '/debrief.symptoms/1 unknown-option',
      '/debrief.symptoms/2 wrong-type',
      '/tyre.rating/FL bad-text',
      '/full-inspection.done-on missing-field',
      '/a~1b~0c unknown-item',
    ]);
  });

  it.each<[string, unknown, string]>([
    ['answers that are a list', [], ' wrong-type'],
    ['answers that are null', null, ' wrong-type'],
    ['a measurement without its value', { 'rotor.weight': { FL: { unit: 'g' } } }, '/rotor.weight/FL missing-field'],
    ['a measurement with more', { 'hv.isolation': { value: 1, unit: 'Ω/V', at: 1 } }, '/hv.isolation/at unknown-field'],
    ['a number as text', { 'hv.isolation': '500' }, '/hv.isolation wrong-type'],
    ['a unit that is not a text', { 'hv.isolation': { value: 5, unit: 5 } }, '/hv.isolation/unit wrong-type'],
    ['infinity', { 'hv.isolation': Number.POSITIVE_INFINITY }, '/hv.isolation wrong-type'],
    ['not a number', { 'hv.isolation': { value: Number.NaN, unit: 'Ω/V' } }, '/hv.isolation/value wrong-type'],
    [
      'a value that overflows',
      { 'hv.isolation': { value: 1e308, unit: 'kΩ/V' } },
      '/hv.isolation/value impossible-value',
    ],
    [
      'a negative thickness that would round to zero',
      { 'bushing.play': { subframe: -0.001 } },
      '/bushing.play/subframe impossible-value',
    ],
    ['an empty text', { 'oil.grade': '  ' }, '/oil.grade bad-text'],
    ['a text that is too long', { 'oil.grade': 'x'.repeat(41) }, '/oil.grade bad-text'],
    ['a control character', { 'oil.grade': '5W\u000030' }, '/oil.grade bad-text'],
    ['half a surrogate pair', { 'oil.grade': '5W\ud800' }, '/oil.grade bad-text'],
    ['a date that does not exist', { 'oil.changed-on': '2026-02-30' }, '/oil.changed-on bad-date'],
    ['a date out of this world', { 'oil.changed-on': '0026-02-03' }, '/oil.changed-on bad-date'],
    ['a composite with nothing in it', { 'wheel.stud-engagement': {} }, '/wheel.stud-engagement missing-field'],
  ])('refuses %s', (_name, raw, expected) => {
    expect(places(raw)).toEqual([expected]);
  });

  it('treats names of object internals as any other unknown name', () => {
    const raw: unknown = JSON.parse(
      '{"__proto__":1,"constructor":{},"toString":null,"pad.thickness":{"__proto__":5},"setup.alignment":{"FL":{"camber":-2,"toe":0,"constructor":1,"__proto__":{"caster":5}}}}',
    );
    expect(places(raw)).toEqual([
      '/__proto__ unknown-item',
      '/constructor unknown-item',
      '/toString unknown-item',
      '/pad.thickness/__proto__ unknown-position',
      '/setup.alignment/FL/constructor unknown-field',
      '/setup.alignment/FL/__proto__ unknown-field',
    ]);
    expect(Object.hasOwn(Object.prototype, 'caster')).toBe(false);
  });

  it('never throws, and gives pointers that lead to a place in the answers', () => {
    const values = fc.jsonValue();
    const keyed = fc.dictionary(fc.constantFrom(...CATALOGUE.map((item) => item.key)), fc.jsonValue());
    const deep = fc.dictionary(
      fc.constantFrom('pad.thickness', 'setup.alignment', 'engine.leaks', 'exhaust.sound-level', 'a/~b', '__proto__'),
      fc.dictionary(fc.constantFrom('FL', 'FL.in', 'level', 'coolant', '', '/', '~1', '__proto__'), fc.jsonValue()),
    );
    fc.assert(
      fc.property(fc.oneof(values, keyed, deep, fc.anything()), (raw) => {
        const parsed = parseAnswers(raw);
        if (parsed.ok) return;
        expect(parsed.faults.length).toBeGreaterThan(0);
        for (const { pointer } of parsed.faults) expect(resolve(raw, pointer)).toBe(true);
      }),
      { numRuns: 2000 },
    );
  });

  it('takes what RawAnswers takes', () => {
    expect(RawAnswers.safeParse({ 'oil.grade': '5W-30' }).success).toBe(true);
    expect(RawAnswers.safeParse([]).success).toBe(false);
  });
});

/** Follows a JSON Pointer (RFC 6901) and says whether every step exists. */
function resolve(raw: unknown, pointer: string): boolean {
  let at: unknown = raw;
  for (const step of pointer.split('/').slice(1)) {
    const name = step.replaceAll('~1', '/').replaceAll('~0', '~');
    if (typeof at !== 'object' || at === null || !Object.hasOwn(at, name)) return false;
    at = Object.getOwnPropertyDescriptor(at, name)?.value;
  }
  return true;
}

/** An answer that no car can have, or that is no answer to this question. */
function impossible(type: AnswerType): unknown[] {
  const byKind = (simple: SimpleAnswerType): unknown[] => {
    switch (simple.kind) {
      case 'number':
        return [simple.min - 1, simple.max + 1, `${simple.min}`, true, { value: simple.max + 1, unit: simple.unit }];
      case 'choice':
        return ['no-such-option', 1, [simple.options[0]]];
      case 'choices':
        return [['no-such-option'], simple.options[0]];
      case 'confirm':
      case 'yes-no':
        return ['true', 1, 'yes'];
      case 'date':
        return ['2026-02-30', '2/4/95', 20260101, ''];
      case 'text':
        return ['', 'x'.repeat(simple.maxLength + 1), 15];
    }
  };
  if (type.kind !== 'fields') return byKind(type);
  return Object.entries(type.fields).flatMap(([name, field]) => byKind(field.type).map((value) => ({ [name]: value })));
}

describe.each(CATALOGUE.map((item) => [item.key, item] as const))('%s', (key, item: Item) => {
  const positions: readonly string[] | undefined = item.positions && POSITION_KEYS[item.positions];

  it('accepts its valid answers and keeps each in its cell', () => {
    fc.assert(
      fc.property(arbAnswer(item), (answer) => {
        const answers = answersOf({ [key]: answer });
        const found = new Set([...answers.keys()].map((cell) => parseCellKey(cell).position));
        expect([...found]).toEqual(positions ?? [undefined]);
        for (const cell of answers.keys()) expect(parseCellKey(cell).key).toBe(key);
      }),
      { numRuns: 15 },
    );
  });

  it('refuses impossible ones', () => {
    for (const answer of impossible(item.answer)) {
      const first = positions?.[0];
      expect(faultsOf({ [key]: first === undefined ? answer : { [first]: answer } }).length).toBeGreaterThan(0);
    }
  });
});
