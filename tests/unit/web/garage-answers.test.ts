import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CATALOGUE } from '../../../src/domain/catalogue/catalogue.ts';
import { type Item, POSITION_KEYS } from '../../../src/domain/catalogue/item.ts';
import { parseAnswers } from '../../../src/domain/declaration/declaration.ts';
import { type FormItem, placesOf } from '../../../src/web/garage/kept/asked.ts';
import {
  answersOf,
  cellAtPointer,
  type Cells,
  cellsOfForm,
  type Leaf,
  partsBeside,
} from '../../../src/web/garage/kept/cells.ts';
import { changedCells, merge } from '../../../src/web/garage/kept/keep.ts';

/** Every item of the catalogue as the form would show it. */
function asFormItem(item: Item, saved?: unknown): FormItem {
  return {
    key: item.key,
    area: item.area,
    label: item.label,
    help: item.help,
    answer: item.answer,
    ...(item.positions === undefined ? {} : { positions: POSITION_KEYS[item.positions] }),
    ...(item.askedAfter && { askedAfter: item.askedAfter }),
    answeredBy: item.answeredBy,
    asked: 'required',
    cautions: [],
    rules: [],
    ...(saved === undefined ? {} : { saved }),
    photos: [],
    missing: [],
  };
}

const ITEMS = CATALOGUE.map((item) => asFormItem(item));
const ALL = new Map(ITEMS.flatMap(placesOf).map((place) => [place.cell, place]));

function goodLeaf(cell: string): Leaf {
  const type = ALL.get(cell)?.type;
  switch (type?.kind) {
    case 'number':
      return { value: Math.max(type.min, 0), unit: type.unit };
    case 'choice':
      return type.options[0] ?? '';
    case 'choices':
      return [...type.options];
    case 'date':
      return '2026-03-04';
    case 'text':
      return type.pattern === undefined ? 'text' : type.pattern.source.includes('A-Z') ? '91W' : '2318';
    default:
      return true;
  }
}

const someCells = fc
  .subarray([...ALL.keys()])
  .map((chosen): Cells => Object.fromEntries(chosen.map((cell) => [cell, goodLeaf(cell)])));

describe('answers by cell', () => {
  test('make what the server parses into the same cells, and come back from it', () => {
    fc.assert(
      fc.property(someCells, (cells) => {
        const { answers, withheld } = answersOf(ITEMS, cells);
        const parsed = parseAnswers(answers);
        expect(parsed.ok, JSON.stringify(parsed)).toBe(true);
        const sent = Object.keys(cells).filter((cell) => !withheld.includes(cell));
        if (parsed.ok) expect([...parsed.answers.keys()].sort()).toEqual(sent.sort());
        const saved = CATALOGUE.map((item) => asFormItem(item, answers[item.key]));
        expect(
          changedCells(cellsOfForm(saved), Object.fromEntries(sent.map((cell) => [cell, cells[cell]])) as Cells),
        ).toEqual([]);
      }),
      { numRuns: 50 },
    );
  });

  test('withhold a composite that lacks a required part', () => {
    const cells = { 'pad.temperature-range@front#low': 100, 'brake.pedal': 'firm' };
    expect(answersOf(ITEMS, cells)).toEqual({
      answers: { 'brake.pedal': 'firm' },
      withheld: ['pad.temperature-range@front#low'],
    });
  });

  test('a part that is said of one place takes what was said of all places with it', () => {
    const all = { 'tyre.axle-marking@*#same': true };
    const cells = { ...all, 'tyre.axle-marking@front#rating': '91W' };
    expect(partsBeside(cells, 'tyre.axle-marking@front#rating')).toEqual({ 'tyre.axle-marking@front#same': true });
    expect(partsBeside(cells, 'tyre.axle-marking@*#rating')).toEqual({});
    const { answers, withheld } = answersOf(ITEMS, { ...cells, 'tyre.axle-marking@front#same': true });
    expect(withheld).toEqual([]);
    expect(answers['tyre.axle-marking']).toEqual({
      basis: 'each-place',
      value: { same: true },
      except: { front: { same: true, rating: '91W' } },
    });
    expect(parseAnswers(answers).ok).toBe(true);
  });

  test('a refusal finds its field by its pointer (RFC 6901)', () => {
    const faults = parseAnswers({
      'pad.thickness': { 'FL.in': { value: 99, unit: 'mm' } },
      'wheel-play.nine-three': { RR: { felt: 'maybe' } },
      'oil.grade': '',
      'debrief.symptoms': ['vibration', 'none'],
    });
    if (faults.ok) throw new Error('all accepted');
    expect(faults.faults.map(({ pointer }) => cellAtPointer(ITEMS, `/answers${pointer}`))).toEqual([
      'pad.thickness@FL.in',
      'wheel-play.nine-three@RR#felt',
      'oil.grade',
      'debrief.symptoms',
    ]);
  });
});

describe('two devices', () => {
  const leaf = fc.constantFrom<Leaf | undefined>(undefined, 1, 2, 'a');
  const cells = fc
    .record({ a: leaf, b: leaf, c: leaf })
    .map((all) => Object.fromEntries(Object.entries(all).filter(([, value]) => value !== undefined)) as Cells);

  test('lose nothing: every cell is from one of them, and every difference of both is named', () => {
    fc.assert(
      fc.property(cells, cells, cells, (base, mine, theirs) => {
        const merged = merge(base, mine, theirs);
        for (const cell of ['a', 'b', 'c']) {
          const [was, here, there] = [base[cell], mine[cell], theirs[cell]];
          const conflict = merged.conflicts.find((one) => one.cell === cell);
          if (here !== was && there !== was && here !== there) {
            expect(conflict).toEqual({ cell, mine: here, theirs: there });
            expect(merged.cells[cell]).toBe(here);
          } else {
            expect(conflict).toBeUndefined();
            expect(merged.cells[cell]).toBe(here === was ? there : here);
          }
        }
        expect(merged.taken.every((cell) => merged.cells[cell] === theirs[cell])).toBe(true);
      }),
    );
  });

  test('that agree have nothing to settle', () => {
    fc.assert(
      fc.property(cells, cells, (base, mine) => {
        expect(merge(base, mine, mine)).toEqual({ cells: mine, conflicts: [], taken: [] });
        expect(merge(base, mine, base)).toEqual({ cells: mine, conflicts: [], taken: [] });
      }),
    );
  });
});
