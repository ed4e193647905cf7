import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { ROLES } from '../../src/domain/actor.ts';
import { GUIDE } from '../../src/features/service/pages.ts';
import { walkCommands } from '../../seed/walk.ts';

const read = (file: string) => readFileSync(new URL(`../../${file}`, import.meta.url), 'utf8');
const readme = read('README.md');

test('the README shows the commands of the walk word for word', () => {
  const shown = [...readme.matchAll(/```sh\n(# \d\.[\s\S]*?)```/g)].map((match) => match[1]?.trim());
  const steps = walkCommands()
    .split(/^(?=# \d\.)/m)
    .map((step) => step.trim());
  expect(steps.length).toBe(5);
  expect(shown).toEqual(steps);
});

test('the README can be read in one go, and leads to every page of the guide', () => {
  expect(readme.split('\n').length).toBeLessThanOrEqual(200);
  for (const { name } of GUIDE) {
    expect(readme).toContain(`(openapi/guide/${name}.md)`);
    expect(readme).toContain(`\`/docs/${name}\``);
  }
});

test('the guide names every role and every setting that a newcomer may meet', () => {
  const integrate = read('openapi/guide/integrate.md');
  for (const role of ROLES) expect(integrate).toContain(`\`${role}\``);
  const operate = read('openapi/guide/operate.md');
  for (const key of ['PORT', 'HOST', 'DATA_DIR', 'DATABASE_URL', 'REDIS_URL', 'ROLE', 'LOG_LEVEL', 'ORGANIZER_TOKEN']) {
    expect(operate).toContain(`\`${key}\``);
  }
});
