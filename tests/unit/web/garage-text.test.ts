import { expect, test } from 'vitest';
import { POSITION_KEYS } from '../../../src/domain/catalogue/item.ts';
import { CLEARANCE_STATUSES } from '../../../src/domain/clearance/clearance.ts';
import en from '../../../src/web/garage/text/en.json' with { type: 'json' };

test('every place of the catalogue and every status of a clearance has a name', () => {
  for (const position of Object.values(POSITION_KEYS).flat()) {
    const [place = '', part] = position.split('.');
    expect(en).toHaveProperty([`at.${place}`]);
    if (part !== undefined) expect(en).toHaveProperty([`part.${part}`]);
  }
  for (const status of CLEARANCE_STATUSES) expect(en).toHaveProperty([`clearance.${status}`]);
});
