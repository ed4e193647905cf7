import { describe, expect, test } from 'vitest';
import { renderCalculationForms } from '../../../openapi/calculation-forms.ts';
import { CALCULATIONS } from '../../../src/domain/trade/calculations.ts';
import deOptions from '../../../src/domain/catalogue/text/de/options.json' with { type: 'json' };
import de from '../../../src/web/workshop/fields/de.json' with { type: 'json' };
import en from '../../../src/web/workshop/fields/en.json' with { type: 'json' };
import { type Field, type Form, GROUPS } from '../../../src/web/workshop/forms.ts';
import { calculationFor } from '../../../src/web/workshop/link.tsx';
import { CATALOGUE } from '../../../src/domain/catalogue/catalogue.ts';
import { bodyOf, draftOf } from '../../../src/web/workshop/values.ts';

const forms = JSON.parse(renderCalculationForms()) as Record<string, Form>;
const names = CALCULATIONS.map(({ name }) => name);

const everyField = (fields: readonly Field[]): Field[] =>
  fields.flatMap((field) => [field, ...everyField(field.fields ?? [])]);
const all = Object.values(forms).flatMap(({ form, result }) => everyField([...form, ...result]));
const sentences = new Set([
  ...Object.values(forms).flatMap(({ title, summary }) => [title, summary]),
  // rows of lists are numbered, the forms of an either are told apart by a place in them
  ...all.filter(({ key, what }) => key !== '' || what !== undefined).map(({ key, what }) => what ?? key),
]);
const options = new Set(all.flatMap((field) => field.options ?? []));

describe('the forms of the computations', () => {
  test('are one for each, and each is found in one group', () => {
    expect(Object.keys(forms)).toEqual(names);
    expect(GROUPS.flatMap((group) => [...group.names]).toSorted()).toEqual(names.toSorted());
  });

  test('have each sentence in German, and none too many', () => {
    expect([...sentences].filter((sentence) => !Object.hasOwn(de.what, sentence))).toEqual([]);
    expect(Object.keys(de.what).filter((sentence) => !sentences.has(sentence))).toEqual([]);
    expect(Object.keys(en.what).filter((sentence) => !sentences.has(sentence))).toEqual([]);
  });

  test('have no name of a field, no code and no null in what an English reader sees', () => {
    const seen = [...sentences].map((sentence) => (en.what as Record<string, string>)[sentence] ?? sentence);
    expect(
      seen.filter((sentence) => /`|\bnull\b|\b[a-z]+[a-z][A-Z]\w*/u.test(sentence) && !/mPa/.test(sentence)),
    ).toEqual([]);
  });

  test('have a word for each option that is no name of a standard or a number', () => {
    const named = { ...deOptions, ...de.options } as Record<string, string>;
    const isName = (option: string) => /^(?:FIA|SFI|Snell|ECE|DOT|ISO|\d|±)/u.test(option);
    expect([...options].filter((option) => named[option] === undefined && !isName(option))).toEqual([]);
    expect(Object.keys(en.options)).toEqual(Object.keys(de.options));
    expect(Object.keys(de.options).filter((option) => !options.has(option))).toEqual([]);
  });
});

describe('what is typed', () => {
  /** What the server makes of a body. */
  const worked = (name: string, body: unknown) => {
    const calculation = CALCULATIONS.find((one) => one.name === name);
    const parsed = calculation?.input.parse(body);
    return calculation?.compute(parsed).result;
  };

  test.each(names.flatMap((name) => ['en', 'de'].map((language) => [name, language])))(
    'of the example of %s, written in %s, gives what the example gives',
    (name = '', language = '') => {
      const form = forms[name];
      if (form === undefined) throw new Error(`no form of ${name}`);
      const read = bodyOf(form.form, draftOf(form.form, form.example, language));
      expect(read.ok).toBe(true);
      expect(worked(name, read.ok ? read.body : undefined)).toEqual(worked(name, form.example));
    },
  );

  const pressure = forms['tyre-pressure']?.form ?? [];
  const typed = (coldKpa: string, coldC = '15', hotC = '75') => bodyOf(pressure, { coldKpa, coldC, hotC });

  // 1 psi is 6.894757 kPa, 1 bar 100 kPa: NIST SP 811, appendix B.8 and B.9
  test.each([
    ['32 psi', { value: 32, unit: 'psi' }, 220.632],
    ['2,2bar', { value: 2.2, unit: 'bar' }, 220],
    ['220', 220, 220],
    ['220 kPa', 220, 220],
  ])('as %j is read with its unit', (text, coldKpa, kpa) => {
    const read = typed(text);
    expect(read).toEqual({ ok: true, body: { coldKpa, coldC: 15, hotC: 75 } });
    const result = worked('tyre-pressure', read.ok ? read.body : undefined) as { coldKpa: number };
    expect(result.coldKpa).toBeCloseTo(kpa, 0);
  });

  test('as a length with a sign of inches, as a fraction, and with a comma', () => {
    const steering = forms['steering-play']?.form ?? [];
    expect(bodyOf(steering, { wheelDiameter: '15"', play: '1/2 in' })).toEqual({
      ok: true,
      body: { wheelDiameter: { value: 15, unit: 'in' }, play: { value: 0.5, unit: 'in' } },
    });
    expect(bodyOf(steering, { wheelDiameter: '380,5', play: '8mm' })).toEqual({
      ok: true,
      body: { wheelDiameter: 380.5, play: 8 },
    });
  });

  test.each([
    ['nothing', '', 'needed'],
    ['words', 'much', 'not-a-number'],
    ['another kind of unit', '5 mm', 'not-a-number'],
  ])('as %s is a fault of its place', (_, coldC, fault) => {
    expect(bodyOf(pressure, { coldKpa: '180', coldC, hotC: '75' })).toEqual({ ok: false, faults: { '/coldC': fault } });
  });

  test('as a share is no percentage, and is held to its bounds', () => {
    const heat = forms['brake-heat']?.form ?? [];
    const zone = { fromKmh: '200', toKmh: '80' };
    const of = (frontShare: string) =>
      bodyOf(heat, { brakingZones: [zone], massKg: '1300', lapTimeS: '90', frontShare });
    expect(of('0,62')).toMatchObject({ ok: true, body: { frontShare: 0.62 } });
    expect(of('62')).toEqual({ ok: false, faults: { '/frontShare': 'too-large' } });
    expect(of('62 %')).toEqual({ ok: false, faults: { '/frontShare': 'not-a-number' } });
  });

  test('as an empty row of a list is a fault: it would shift the others', () => {
    const levels = forms['sound-average']?.form ?? [];
    expect(bodyOf(levels, { levels: ['88', '', '90'] })).toEqual({ ok: false, faults: { '/levels/1': 'needed' } });
  });
});

describe('the way to a computation', () => {
  test('leads to one that there is, from questions that there are', () => {
    const found = CATALOGUE.flatMap(({ key }) => calculationFor([key]) ?? []);
    expect(found.length).toBeGreaterThan(30);
    expect(found.filter((name) => !names.includes(name))).toEqual([]);
    expect(calculationFor(['body.tow-eye'])).toBeUndefined();
    expect(calculationFor(['body.tow-eye', 'rotor.cracks'])).toBe('rotor-check');
  });
});
