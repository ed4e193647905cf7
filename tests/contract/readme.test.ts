import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { walkCommands } from '../../seed/walk.ts';

const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8');

test('the README shows the commands of the walk word for word', () => {
  const shown = [...readme.matchAll(/```sh\n(# \d\.[\s\S]*?)```/g)].map((match) => match[1]?.trim());
  const steps = walkCommands()
    .split(/^(?=# \d\.)/m)
    .map((step) => step.trim());
  expect(steps.length).toBe(5);
  expect(shown).toEqual(steps);
});

test('the README names every role and every setting that a newcomer may meet', () => {
  for (const role of ['organizer', 'chief', 'inspector', 'marshal', 'entrant']) expect(readme).toContain(`\`${role}\``);
  for (const key of ['PORT', 'HOST', 'DATA_DIR', 'DATABASE_URL', 'REDIS_URL', 'ROLE', 'LOG_LEVEL', 'ORGANIZER_TOKEN']) {
    expect(readme).toContain(`\`${key}\``);
  }
});
