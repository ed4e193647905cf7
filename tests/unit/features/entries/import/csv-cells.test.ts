import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type Column,
  COLUMNS,
  findColumn,
  formatCell,
  guardText,
  readCell,
  setValueAt,
  unguardText,
} from '../../../../../src/features/entries/import/csv-columns.ts';
import { Entrant, Person } from '../../../../../src/features/entries/schemas.ts';
import { Vehicle } from '../../../../../src/domain/vehicle.ts';
import { arbDecimal, arbVehicle } from '../../../../support/arbitraries.ts';

const columnOf = (name: string): Column => {
  const column = COLUMNS.find((one) => one.name === name);
  if (column === undefined) throw new Error(`no column ${name}`);
  return column;
};
const read = (name: string, cell: string, decimalComma = false) => readCell(columnOf(name), cell, { decimalComma });

/** Leaves of the vehicle schema, walked over zod's own objects rather than over its JSON Schema. */
function leaves(schema: unknown, path: string): string[] {
  const { def } = schema as { def: { type: string; innerType?: unknown; shape?: Record<string, unknown> } };
  if (def.type === 'optional') return leaves(def.innerType, path);
  if (def.type !== 'object') return [path];
  return Object.entries(def.shape ?? {}).flatMap(([key, part]) => leaves(part, `${path}.${key}`));
}

/** Names as people and machines write them: any letters, and the characters that mean something in a cell. */
const arbName = fc
  .oneof(
    fc.string({ unit: 'grapheme', minLength: 1, maxLength: 60 }),
    fc.string({ unit: fc.constantFrom(...'=+-@\'\\;:," \uFF1D\uFEFFaé'), minLength: 1, maxLength: 12 }),
  )
  .map((name) => name.trim())
  .filter((name) => Person.shape.name.safeParse(name).success);

const arbBaseline = fc.record({ camberDeg: fc.record({ FL: arbDecimal(-15, 15, 2), RR: arbDecimal(-15, 15, 2) }) });

describe('columns', () => {
  test('are the properties of the vehicle record, each once', () => {
    const vehicle = COLUMNS.map((column) => column.name).filter((name) => name.startsWith('vehicle.'));
    expect(vehicle).toEqual(leaves(Vehicle, 'vehicle'));
    expect(new Set(vehicle).size).toBe(vehicle.length);
  });

  test('keep the names that callers wrote into their files', () => {
    const names = COLUMNS.map((column) => column.name);
    expect(names.slice(0, 10)).toEqual([
      'carNumber',
      'runGroup',
      'entrantName',
      'entrantEmail',
      'entrantPhone',
      'entrantLanguage',
      'entrantPersonId',
      'people',
      'vehicleId',
      'vehicle.description',
    ]);
    expect(names).toEqual(
      expect.arrayContaining([
        'vehicle.massKg',
        'vehicle.caliper.front',
        'vehicle.bushing.front-upper-arm',
        'vehicle.rotorMinimumThicknessMm.FL',
        'vehicle.baseline.camberDeg.RR',
      ]),
    );
  });

  test('are found from the place at which a schema reports a fault', () => {
    expect(findColumn(['people', 3, 'name'])?.name).toBe('people');
    expect(findColumn(['vehicle', 'caliper', 'rear'])?.name).toBe('vehicle.caliper.rear');
    expect(findColumn(['vehicleId'])?.name).toBe('vehicleId');
    expect(findColumn(['runGroupId'])).toBeUndefined();
  });
});

describe('formula guard', () => {
  // The characters are those of OWASP ASVS 5.0, 1.2.10; CR, LF and the full-width forms are ours.
  test.each(['=1+1', '+49 151', '-2', '@name', '\tx', '\rx', "'=1", "''@x", '＝1'])(
    'guards %j and gives it back',
    (text) => {
      expect(guardText(text)).toBe(`'${text}`);
      expect(unguardText(guardText(text))).toBe(text);
    },
  );

  test.each([
    ['x;=1+1;y', "x;'=1+1;y"],
    ['x; =1+1', "x; '=1+1"],
    ['x;"=1+1"', 'x;"\'=1+1"'],
    ['x|@y', "x|'@y"],
    ['x\ty\t-2', "x\ty\t'-2"],
    ['one\n+two', "one\n'+two"],
    ["x;'=1", "x;''=1"],
    ['=1;=2', "'=1;'=2"],
  ])('guards %j for a reader that separates by other signs, and gives it back', (text, guarded) => {
    expect(guardText(text)).toBe(guarded);
    expect(unguardText(guarded)).toBe(text);
  });

  test.each(["O'Neil", "'quoted'", 'a=b', 'left; right', 'a;b=c', ''])('leaves %j alone', (text) => {
    expect(guardText(text)).toBe(text);
    expect(unguardText(text)).toBe(text);
  });

  test('gives every text back, and nothing that it wrote starts a formula', () => {
    const arbText = fc.string({ unit: fc.oneof(fc.constantFrom(...'\'=+-@\t\r;| "'), fc.string({ maxLength: 1 })) });
    fc.assert(
      fc.property(arbText, (text) => {
        expect(unguardText(guardText(text))).toBe(text);
        expect(guardText(text)).not.toMatch(/^[=+\-@\t\r]/);
        for (const cell of guardText(text)
          .split(/[;|\t\r\n]/)
          .slice(1))
          expect(cell).not.toMatch(/^[ "]*[=+\-@]/);
      }),
    );
  });
});

describe('a cell read back is the value that was written', () => {
  test('for names, alone and in a list', () => {
    const arbPeople = fc.array(fc.record({ role: fc.constantFrom('driver', 'crew', 'preparer'), name: arbName }), {
      minLength: 1,
    });
    fc.assert(
      fc.property(arbName, arbPeople, (name, people) => {
        const entry = { entrant: { name }, people };
        expect(read('entrantName', formatCell(columnOf('entrantName'), entry))).toEqual({ value: name });
        expect(read('people', formatCell(columnOf('people'), entry))).toEqual({ value: people });
      }),
      { numRuns: 1000 },
    );
  });

  test('for every property of a vehicle', () => {
    fc.assert(
      fc.property(arbVehicle(), fc.option(arbBaseline, { nil: undefined }), (some, baseline) => {
        const vehicle = baseline === undefined ? some : { ...some, baseline };
        const back: Record<string, unknown> = {};
        for (const column of COLUMNS) {
          const cell = readCell(column, formatCell(column, { vehicle }), { decimalComma: false });
          if ('value' in cell) setValueAt(back, column.path, cell.value);
          else expect.fail(`${column.name}: ${cell.detail}`);
        }
        const parsed = Vehicle.parse(back['vehicle']);
        for (const column of COLUMNS) {
          expect(formatCell(column, { vehicle: parsed })).toBe(formatCell(column, { vehicle }));
        }
        expect(parsed.baseline).toEqual(baseline);
        expect(parsed.massKg).toBe(vehicle.massKg);
        expect(parsed.fuelCell).toBe(vehicle.fuelCell);
      }),
      { numRuns: 300 },
    );
  });

  test('for negative numbers, which are no formulas', () => {
    const entry = { vehicle: { baseline: { camberDeg: { FL: -2.5 } } } };
    expect(formatCell(columnOf('vehicle.baseline.camberDeg.FL'), entry)).toBe('-2.5');
    expect(read('vehicle.baseline.camberDeg.FL', '-2.5')).toEqual({ value: -2.5 });
  });
});

describe('reading', () => {
  test.each([
    ['vehicle.massKg', ' 1210 ', { value: 1210 }],
    ['vehicle.massKg', '', { value: undefined }],
    ['vehicle.fuelCell', 'TRUE', { value: true }],
    ['people', 'driver: Ines Haldorsen ;crew:Tor Brekke;', PEOPLE()],
    ['people', String.raw`driver:A\;B \\ C\D`, { value: [{ role: 'driver', name: String.raw`A;B \ C\D` }] }],
    ['entrantPhone', '+49 151 12345', { value: '+49 151 12345' }],
    ['entrantPhone', "'+49 151 12345", { value: '+49 151 12345' }],
    ['carNumber', '07', { value: '07' }],
  ])('%s from %j', (name, cell, expected) => {
    expect(read(name, cell)).toEqual(expected);
  });

  test('takes a decimal comma only where semicolons separate', () => {
    expect(read('vehicle.wheelStudDiameterMm', '12,5', true)).toEqual({ value: 12.5 });
    expect(read('vehicle.wheelStudDiameterMm', '12,5')).toMatchObject({ code: 'not-a-number' });
    expect(read('vehicle.massKg', '1.210,5', true)).toMatchObject({ code: 'not-a-number' });
  });

  test.each([
    ['vehicle.massKg', '1210 kg', 'not-a-number'],
    ['vehicle.massKg', '0x4ba', 'not-a-number'],
    ['vehicle.massKg', 'Infinity', 'not-a-number'],
    ['vehicle.massKg', '1e999', 'not-a-number'],
    ['vehicle.fuelCell', 'maybe', 'not-true-or-false'],
    ['people', 'Ines Haldorsen', 'not-people'],
    ['people', ':Ines Haldorsen', 'not-people'],
    ['entrantName', 'A\u0000B', 'not-storable'],
  ])('refuses %s from %j as %s', (name, cell, code) => {
    expect(read(name, cell)).toMatchObject({ code });
  });
});

describe('setting a value', () => {
  test('takes a group away with its last member, and only then', () => {
    const tree = { vehicle: { caliper: { front: 'fixed', rear: 'fixed' }, rotor: {} } };
    setValueAt(tree, ['vehicle', 'caliper', 'front'], undefined);
    expect(tree).toEqual({ vehicle: { caliper: { rear: 'fixed' }, rotor: {} } });
    setValueAt(tree, ['vehicle', 'caliper', 'rear'], undefined);
    setValueAt(tree, ['vehicle', 'rotor', 'rear'], undefined);
    expect(tree).toEqual({ vehicle: { rotor: {} } });
    setValueAt(tree, ['entrant', 'name'], 'Ines');
    expect(tree).toEqual({ vehicle: { rotor: {} }, entrant: { name: 'Ines' } });
  });
});

test('an entrant is four columns, so that a new member of it cannot be forgotten', () => {
  const members = COLUMNS.filter(({ path }) => path[0] === 'entrant').map(({ path }) => path[1]);
  expect(members.toSorted()).toEqual(Object.keys(Entrant.shape).toSorted());
});

function PEOPLE() {
  return {
    value: [
      { role: 'driver', name: 'Ines Haldorsen' },
      { role: 'crew', name: 'Tor Brekke' },
    ],
  };
}
