import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { CATALOGUE, itemApplies } from '../../../src/domain/catalogue/catalogue.ts';
import {
  type Answers,
  cellKey,
  listMissing,
  listNotApplicable,
  parseAnswers,
  parseCellKey,
} from '../../../src/domain/declaration/declaration.ts';
import type { Vehicle } from '../../../src/domain/vehicle.ts';
import { arbCompleteAnswers, arbRawAnswers, arbVehicle } from '../../support/arbitraries.ts';

const car = (properties: Partial<Vehicle>): Vehicle => ({ description: 'A car', ...properties });
const names = (cells: readonly { key: string; position?: string; field?: string }[]): string[] =>
  cells.map(({ key, position, field }) => cellKey(key, position, field));

function answersOf(raw: unknown): Answers {
  const parsed = parseAnswers(raw);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.answers;
}

describe('cellKey', () => {
  it('is undone by parseCellKey', () => {
    const cells = [
      { key: 'oil.grade' },
      { key: 'pad.thickness', position: 'FL.in' },
      { key: 'exhaust.sound-level', field: 'level' },
      { key: 'wheel-play.nine-three', position: 'FL', field: 'felt' },
    ];
    for (const cell of cells) expect(parseCellKey(cellKey(cell.key, cell.position, cell.field))).toEqual(cell);
    expect(names(cells)).toEqual([
      'oil.grade',
      'pad.thickness@FL.in',
      'exhaust.sound-level#level',
      'wheel-play.nine-three@FL#felt',
    ]);
  });
});

describe('listMissing', () => {
  it('asks each side for its own items and for those of both', () => {
    const entrant = names(listMissing(new Map(), car({}), 'entrant'));
    const inspector = names(listMissing(new Map(), car({}), 'inspector'));
    expect(entrant).toContain('oil.grade');
    expect(inspector).not.toContain('oil.grade');
    expect(inspector).toContain('brake-fluid.measured-boiling-point');
    expect(entrant).not.toContain('brake-fluid.measured-boiling-point');
    for (const list of [entrant, inspector]) expect(list).toContain('pad.thickness@FL.in');
  });

  it('names required fields, and a composite of optional parts as one', () => {
    const missing = names(
      listMissing(
        answersOf({ 'pad.temperature-range': { front: { low: 100, high: null } }, 'car.usage': { trackHours: 12 } }),
        car({}),
        'entrant',
      ),
    );
    expect(missing).toContain('pad.temperature-range@front#high');
    expect(missing).not.toContain('pad.temperature-range@front#low');
    expect(missing).not.toContain('full-inspection.done-on#by');
    expect(missing).not.toContain('wheel-play.nine-three@FL#mm');
    expect(missing).toContain('wheel-play.nine-three@FL#felt');
    expect(missing.filter((cell) => cell.startsWith('car.usage'))).toEqual([]);
    expect(missing).toContain('wheel.stud-engagement');
  });

  it('leaves out what does not apply', () => {
    const missing = names(
      listMissing(new Map(), car({ powertrain: 'battery', rotor: { front: 'carbon' } }), 'entrant'),
    );
    expect(missing).not.toContain('oil.grade');
    expect(missing).not.toContain('rotor.thickness@FL');
    expect(missing).toContain('rotor.thickness@RL');
    expect(missing).toContain('rotor.weight@FL');
  });

  it('is empty for whole answers, and answered and missing never overlap', () => {
    fc.assert(
      fc.property(
        arbVehicle().chain((vehicle) =>
          fc.tuple(fc.constant(vehicle), arbCompleteAnswers(vehicle), arbRawAnswers(vehicle)),
        ),
        ([vehicle, complete, some]) => {
          for (const by of ['entrant', 'inspector'] as const) {
            expect(listMissing(answersOf(complete), vehicle, by)).toEqual([]);
            const answers = answersOf(some);
            for (const cell of names(listMissing(answers, vehicle, by))) expect(answers.has(cell)).toBe(false);
          }
          expect(listNotApplicable(answersOf(complete), vehicle)).toEqual([]);
        },
      ),
      { numRuns: 30 },
    );
  });
});

describe('listNotApplicable', () => {
  it('names answers to items and positions that the car does not have', () => {
    const answers = answersOf({
      'oil.grade': '5W-30',
      'rotor.weight': { FL: 5000, RL: 5000 },
      'brake.lights': true,
      'exhaust.sound-level': { level: 90, distance: 20, method: 'drive-by' },
    });
    const vehicle = car({ powertrain: 'battery', rotor: { front: 'carbon', rear: 'iron' } });
    expect(names(listNotApplicable(answers, vehicle))).toEqual([
      'oil.grade',
      'rotor.weight@RL',
      'exhaust.sound-level#level',
      'exhaust.sound-level#distance',
      'exhaust.sound-level#method',
    ]);
    expect(listNotApplicable(answers, car({}))).toEqual([]);
  });

  it('holds exactly the cells of no item that applies, for whole answers of another car', () => {
    const pair = fc.tuple(arbVehicle(), arbVehicle());
    const cases = pair.chain(([one, other]) => fc.tuple(fc.constant(other), arbCompleteAnswers(one)));
    fc.assert(
      fc.property(cases, ([vehicle, raw]) => {
        const left = new Set(names(listNotApplicable(answersOf(raw), vehicle)));
        for (const item of CATALOGUE.filter((each) => !itemApplies(each, vehicle))) {
          for (const cell of answersOf(raw).keys()) {
            if (parseCellKey(cell).key === item.key) expect(left.has(cell)).toBe(true);
          }
        }
      }),
      { numRuns: 20 },
    );
  });
});
