import { describe, expect, it } from 'vitest';
import {
  changedFacts,
  type FactOrigin,
  isImplausible,
  listFacts,
  originsAfter,
  unconfirmedFacts,
  withFact,
} from '../../../../src/domain/car/car-facts.ts';
import { CAR_FACT_ITEMS, factOfItem, itemOfFact, NUMBER_FACTS } from '../../../../src/domain/car/fact-table.ts';
import { VEHICLE_FIELDS } from '../../../../src/domain/rules/model/vehicle-fields.ts';
import { Vehicle } from '../../../../src/domain/vehicle.ts';

const by = (origin: FactOrigin['origin'], again?: true): FactOrigin => ({
  origin,
  by: { as: origin === 'confirmed' ? 'staff' : 'owner', name: 'Somebody' },
  at: '2026-06-01T08:00:00.000Z',
  again,
});
const CAR = { description: 'Hatchback', massKg: 1180, rotorMinimumThicknessMm: { FL: 20.4, FR: 20.4 } };

describe('the table of numbers', () => {
  it('has every number of the record but the baseline, with its unit and its places', () => {
    const numbers = VEHICLE_FIELDS.filter(({ path, type }) => type.kind === 'number' && path[0] !== 'baseline');
    const inRecord = numbers.map(({ path, type, scheme }) => [path.join('.'), 'unit' in type && type.unit, scheme]);
    const inTable = NUMBER_FACTS.map(({ field, type, scheme }) => [field, type.unit, scheme]);
    expect(inTable.sort()).toEqual(inRecord.sort());
  });

  it('asks for nothing that the record would not take', () => {
    for (const { field, scheme, type } of NUMBER_FACTS) {
      const { plausible = [0, 0] } = type;
      expect(type.min).toBeLessThanOrEqual(plausible[0]);
      expect(type.max).toBeGreaterThanOrEqual(plausible[1]);
      for (const value of [type.min, type.max]) {
        const stated = scheme === undefined ? value : { [scheme === 'wheel' ? 'FL' : 'front']: value };
        expect(Vehicle.safeParse({ description: 'Any', [field]: stated }).success, `${field} ${value}`).toBe(true);
      }
    }
  });

  it('names each of them for the line and back', () => {
    for (const path of ['massKg', 'rotorMinimumThicknessMm.RL', 'axleLoadKg.front']) {
      const { item, position } = itemOfFact(path);
      expect(factOfItem(item, position)).toBe(path);
      expect(CAR_FACT_ITEMS.map(({ key }) => key)).toContain(item);
    }
    expect(factOfItem('pad.thickness', 'FL.in')).toBeUndefined();
    expect(factOfItem('car.massKg', 'FL')).toBeUndefined();
  });
});

describe('facts of a record', () => {
  it('are listed by path, changed one by one, and leave no empty group', () => {
    expect(listFacts(CAR).map(([path]) => path)).toEqual([
      'description',
      'massKg',
      'rotorMinimumThicknessMm.FL',
      'rotorMinimumThicknessMm.FR',
    ]);
    const changed = withFact(CAR, 'rotorMinimumThicknessMm.FL', 19);
    expect(changedFacts(CAR, changed)).toEqual(['rotorMinimumThicknessMm.FL']);
    expect(CAR.rotorMinimumThicknessMm.FL).toBe(20.4);
    const bare = withFact(
      withFact(CAR, 'rotorMinimumThicknessMm.FL', undefined),
      'rotorMinimumThicknessMm.FR',
      undefined,
    );
    expect(bare).toEqual({ description: 'Hatchback', massKg: 1180 });
  });

  it('of before origins were kept are the organizer’s; what the owner wrote is not confirmed', () => {
    expect(unconfirmedFacts(CAR, {})).toEqual([]);
    expect(unconfirmedFacts(CAR, { '': by('confirmed'), massKg: by('entered') })).toEqual(['massKg']);
    expect(unconfirmedFacts(CAR, { '': by('stamped') })).toHaveLength(4);
  });

  it('that such cars do not have are asked for again, whoever wrote them', () => {
    const odd = withFact(CAR, 'rotorMinimumThicknessMm.FL', 60);
    expect(isImplausible('rotorMinimumThicknessMm.FL', 60)).toBe(true);
    expect(unconfirmedFacts(odd, { '': by('confirmed') })).toEqual(['rotorMinimumThicknessMm.FL']);
    expect(unconfirmedFacts(odd, { '': by('confirmed', true) })).toEqual([]);
  });

  it('are not confirmed by being read and sent back', () => {
    const before = { record: CAR, origins: { '': by('confirmed'), massKg: by('entered') } };
    const after = originsAfter(before, withFact(CAR, 'rotorMinimumThicknessMm.FR', 20), by('confirmed'));
    expect(after['massKg']?.origin).toBe('entered');
    expect(after['rotorMinimumThicknessMm.FR']?.origin).toBe('confirmed');
    expect(originsAfter(before, { description: 'Hatchback' }, by('confirmed'))['massKg']).toBeUndefined();
  });
});
