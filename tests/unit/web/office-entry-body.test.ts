import { describe, expect, test } from 'vitest';
import { EMPTY, entrantFrom, peopleFrom, vehicleFrom } from '../../../src/web/office/entries/edit-entry.tsx';

describe('what is sent of an entry', () => {
  test('people are one a line; without a role they drive, and a colon in a name stays', () => {
    expect(peopleFrom('Ines Haldorsen\n\n crew: Bo Lind \nPreparer: Workshop: Nord\nDr: Falk')).toEqual([
      { name: 'Ines Haldorsen', role: 'driver' },
      { name: 'Bo Lind', role: 'crew' },
      { name: 'Workshop: Nord', role: 'preparer' },
      { name: 'Dr: Falk', role: 'driver' },
    ]);
    expect(peopleFrom(' \n')).toEqual([]);
  });

  test('empty fields are left out', () => {
    expect(entrantFrom({ ...EMPTY, name: ' Runa ', email: ' ' })).toEqual({ name: 'Runa' });
  });

  test('of the record of the car only what the form shows is changed', () => {
    const before = { description: 'Saloon', colour: 'red', sump: 'dry', rotor: { front: 'iron' } };
    expect(vehicleFrom({ ...EMPTY, description: 'Saloon 2.0', drive: 'rear' }, before)).toEqual({
      description: 'Saloon 2.0',
      drive: 'rear',
      sump: 'dry',
      rotor: { front: 'iron' },
    });
  });
});
