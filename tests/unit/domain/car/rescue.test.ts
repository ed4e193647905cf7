import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { hazardsOf, rescueKind, rescueOf } from '../../../../src/domain/car/rescue.ts';
import { arbVehicle } from '../../../support/arbitraries.ts';

describe('what rescuers must know of a car', () => {
  test.each([
    ['a petrol car', { drive: 'combustion', gas: 'none' }, 'plain', []],
    ['a battery car', { drive: 'battery', gas: 'none', volts: 400 }, 'special', ['battery']],
    ['a hybrid of which nobody said its gas', { drive: 'hybrid' }, 'special', ['hybrid']],
    ['a fuel-cell car', { drive: 'battery', gas: 'hydrogen' }, 'special', ['battery', 'hydrogen']],
    ['a petrol car with a gas tank', { drive: 'combustion', gas: 'lpg' }, 'special', ['lpg']],
    ['a car with a voltage and no drive stated', { volts: 320 }, 'special', ['voltage']],
    ['a car with gas and no drive stated', { gas: 'cng' }, 'special', ['cng']],
  ] as const)('of %s', (_car, rescue, kind, hazards) => {
    expect(rescueKind(rescue)).toBe(kind);
    expect(hazardsOf(rescue)).toEqual(hazards);
  });

  test.each([{}, { drive: 'combustion' }, { gas: 'none' }, { disconnectAt: 'in the boot' }] as const)(
    'is not known of %j, which never counts as a petrol car',
    (rescue) => expect(rescueKind(rescue)).toBe('not-stated'),
  );

  test('is plain only where drive and gas were both said, whatever else is in the record', () => {
    fc.assert(
      fc.property(arbVehicle(), (vehicle) => {
        const rescue = rescueOf(vehicle);
        const isPlain = rescueKind(rescue) === 'plain';
        expect(hazardsOf(rescue).length > 0).toBe(rescueKind(rescue) === 'special');
        if (isPlain) expect(vehicle).toMatchObject({ powertrain: 'combustion', gas: 'none' });
        if (isPlain) expect(vehicle.highVoltageV).toBeUndefined();
      }),
    );
  });
});
