import { afterAll, beforeAll, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';

let t: TestApp;
beforeAll(async () => {
  t = await startTestApp({ config: { securityContact: 'mailto:security@club.example' } });
});
afterAll(() => t.close());

test('says whom to tell of a weakness, for a month from the day it is asked', async () => {
  const answer = await t.api(undefined).get('/.well-known/security.txt').expect(200);
  expect(answer.headers['content-type']).toBe('text/plain; charset=utf-8');
  // RFC 9116, sections 2.5.3 and 2.5.5: Contact and Expires are required, Expires less than a year ahead
  const lines = answer.text.trimEnd().split('\n');
  expect(lines[0]).toBe('Contact: mailto:security@club.example');
  const expires = Date.parse(/^Expires: (.+)$/.exec(lines[1] ?? '')?.[1] ?? '');
  const days = (expires - t.clock.now().getTime()) / 86_400_000;
  expect(days).toBeGreaterThan(28);
  expect(days).toBeLessThanOrEqual(30);
});

test('answers that were counted say what is left', async () => {
  const answers = [
    await t.api(undefined).get('/.well-known/security.txt'),
    await t.api('marshal').get('/v1/own-token'),
    await t.api('marshal').get('/v1/tokens'),
    await t.api('organizer').get('/v1/events/019ab8f0-0000-7000-8000-000000000000'),
    await t.api('organizer').post('/v1/venues').send({ name: 7 }),
  ];
  expect(answers.map((answer) => answer.status)).toEqual([200, 200, 403, 404, 400]);
  for (const { headers, status } of answers) {
    for (const name of ['limit', 'remaining', 'reset'])
      expect(headers[`x-ratelimit-${name}`], `${status} ${name}`).toMatch(/^\d+$/);
  }
});
