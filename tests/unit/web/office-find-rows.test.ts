import { expect, test } from 'vitest';
import { COLUMNS, found, type Row, sorted } from '../../../src/web/office/entries/rows.ts';

const row = (carNumber: string, entrant: string, vehicle: string, part: Partial<Row> = {}): Row => ({
  entryId: `id ${carNumber}`,
  carNumber,
  runGroupId: 'a',
  runGroup: 'Novice',
  vehicle,
  status: 'clear',
  reason: '',
  entrant,
  ...part,
});
const ROWS = [
  row('12', 'Jürgen Groß', 'Red estate'),
  row('7', 'Ines Haldorsen', 'Yellow coupé 12 valves'),
  row('120', 'Åse Lind', 'Blue saloon', { status: 'held', runGroupId: 'b', runGroup: 'Advanced' }),
  row('07', 'Mara Oyelaran', 'Red coupé'),
];
const numbers = (words: string, part: object = {}): string[] =>
  found(ROWS, { words, runGroupId: '', status: '', ...part }).map(({ carNumber }) => carNumber);

test('finds by number, name and car, whatever the case and the accents', () => {
  expect(numbers('haldorsen')).toEqual(['7']);
  expect(numbers('jurgen gross')).toEqual(['12']);
  expect(numbers('ASE')).toEqual(['120']);
  expect(numbers('red coupe')).toEqual(['07']);
  expect(numbers('')).toEqual(['12', '7', '120', '07']);
  expect(numbers('nobody')).toEqual([]);
});

test('a word that is a number of the list is that car, or text that has it, and no longer number', () => {
  expect(numbers('12')).toEqual(['12', '7']);
  expect(numbers('1')).toEqual(['12', '7', '120']);
  expect(numbers('07')).toEqual(['07']);
});

test('filters by group and status beside the words', () => {
  expect(numbers('', { status: 'held' })).toEqual(['120']);
  expect(numbers('', { runGroupId: 'a' })).toEqual(['12', '7', '07']);
  expect(numbers('red', { status: 'held' })).toEqual([]);
});

test('orders by any column, both ways, numbers as numbers', () => {
  const order = (by: (typeof COLUMNS)[number], down = false) => sorted(ROWS, { by, down }).map((one) => one.carNumber);
  expect(order('number').slice(2)).toEqual(['12', '120']);
  expect(order('number', true).slice(0, 2)).toEqual(['120', '12']);
  expect(order('group')[0]).toBe('120');
  for (const by of COLUMNS) expect(order(by).toSorted(), by).toEqual(['07', '12', '120', '7']);
});

test('a thousand entries are found and ordered within a frame or two', () => {
  const many = Array.from({ length: 1000 }, (_, at) => row(String(at), `Driver ${at} Müller`, `Coupé ${at % 50}`));
  const started = performance.now();
  for (const words of ['m', 'mu', 'mul', 'muller 7', 'coupe 4']) {
    sorted(found(many, { words, runGroupId: '', status: '' }), { by: 'name', down: false });
  }
  // Five key presses; generous, for a test machine that does other things beside it.
  expect(performance.now() - started).toBeLessThan(1000);
});
