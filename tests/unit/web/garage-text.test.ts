import { expect, test } from 'vitest';
import { POSITION_KEYS } from '../../../src/domain/catalogue/item.ts';
import { CLEARANCE_STATUSES } from '../../../src/domain/clearance/clearance.ts';
import { JOB_ORDER, OPENINGS, PART_DAYS } from '../../../src/domain/prepare/work-table.ts';
import en from '../../../src/web/garage/text/en.json' with { type: 'json' };
import after from '../../../src/web/garage/verdict/text/en.json' with { type: 'json' };

test('every place of the catalogue and every status of a clearance has a name', () => {
  for (const position of Object.values(POSITION_KEYS).flat()) {
    const [place = '', part] = position.split('.');
    expect(en).toHaveProperty([`at.${place}`]);
    if (part !== undefined) expect(en).toHaveProperty([`part.${part}`]);
  }
  for (const status of CLEARANCE_STATUSES) expect(after).toHaveProperty([`clearance.${status}`]);
});

test('every job, part and opening of what is put right has a name', () => {
  for (const job of JOB_ORDER) expect(after).toHaveProperty([`job.${job}`]);
  for (const part of Object.keys(PART_DAYS)) expect(after).toHaveProperty([`part.${part}`]);
  for (const opening of OPENINGS) {
    const keys = opening === 'wheels' ? ['step.wheels.front', 'step.wheels.rear'] : [`step.${opening}`];
    for (const key of keys) expect(after).toHaveProperty([key]);
  }
});
