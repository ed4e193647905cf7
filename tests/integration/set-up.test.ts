import { afterAll, beforeAll, expect, test } from 'vitest';
import profiles from '../../seed/profiles.json' with { type: 'json' };
import { startTestApp, type TestApp } from '../support/app.ts';

let t: TestApp;
beforeAll(async () => {
  t = await startTestApp({ own: true });
});
afterAll(() => t.close());

interface Steps {
  next: string | null;
  entrantsCanStart: boolean;
  steps: { step: string; state: string; missing: { code: string; before: string; count?: number }[] }[];
}

const steps = async (eventId?: string): Promise<Steps> =>
  (await t.api('organizer').get(`/v1/set-up${eventId === undefined ? '' : `?eventId=${eventId}`}`)).body;
const missing = ({ steps: all }: Steps): string[] => all.flatMap((one) => one.missing.map(({ code }) => code));
const post = (path: string, body: object) => t.api('organizer').post(path).send(body);

test('from an empty server to entrants who can start, each step says what is missing', async () => {
  const empty = await steps();
  expect(missing(empty)).toEqual([
    'no-venue',
    'no-event',
    'no-rules',
    'no-group',
    'no-inspector',
    'no-chief',
    'no-marshal',
    'no-entry',
    'no-link',
  ]);
  expect(empty.steps.every(({ state }) => state === 'open')).toBe(true);
  expect(empty).toMatchObject({ next: 'venue', entrantsCanStart: false });

  const venue = await post('/v1/venues', { name: 'Field', timeZone: 'Europe/Berlin' });
  expect((await steps()).next).toBe('event');
  const { body: event } = await post('/v1/events', {
    name: 'Club day',
    venueId: venue.body.venueId,
    startsOn: '2026-06-13',
    endsOn: '2026-06-13',
    declarationsOpenAt: '2026-06-01T08:00:00Z',
    declarationsCloseAt: '2026-06-12T16:00:00Z',
  });
  const { eventId } = event;
  expect(await steps(eventId)).toMatchObject({ eventId, next: 'venue' });

  const adopted = await post('/v1/built-in-rules/adopt', { name: 'Our rules' });
  expect(adopted.status).toBe(201);
  expect(adopted.body).toMatchObject({ version: 1, name: 'Our rules' });
  // A second tap makes no second set.
  const again = await post('/v1/built-in-rules/adopt', { name: 'Our rules' });
  expect([again.status, again.body]).toEqual([200, adopted.body]);
  const { body: builtIn } = await t.api('organizer').get('/v1/built-in-rules');
  const novice = builtIn.profiles.find(({ name }: { name: string }) => name === 'novice');
  expect(novice.limits.map(({ name }: { name: string }) => name)).toEqual(Object.keys(profiles.novice));

  const group = await post(`/v1/events/${eventId}/run-groups`, {
    name: 'Novice',
    order: 1,
    firstSessionAt: '2026-06-13T07:00:00Z',
    ruleSetId: adopted.body.ruleSetId,
    ruleSetVersion: 1,
    parameters: profiles.novice,
  });
  expect(group.status).toBe(201);
  for (const [role, holder] of [
    ['inspector', 'Mara'],
    ['inspector', 'Jon'],
    ['marshal', 'Gate tablet'],
  ]) {
    await post('/v1/tokens', { role, holder, eventIds: [eventId] }).expect(201);
  }
  expect(missing(await steps(eventId))).toEqual([
    'no-braking-zones',
    'no-top-speed',
    'no-chief',
    'no-entry',
    'no-link',
  ]);
  const skipped = await t.api('organizer').put(`/v1/events/${eventId}/set-up/venue`).send({ skipped: true });
  expect(skipped.body.steps[0]).toMatchObject({ step: 'venue', state: 'skipped' });
  expect(skipped.body.next).toBe('people');

  const entries: string[] = [];
  for (const carNumber of ['7', '12']) {
    const body = { carNumber, runGroupId: group.body.runGroupId, entrant: { name: `Driver ${carNumber}` } };
    const entry = await post(`/v1/events/${eventId}/entries`, { ...body, vehicle: { description: 'Coupe' } }).expect(
      201,
    );
    entries.push(entry.body.entryId);
  }
  expect(missing(await steps(eventId))).toContain('no-link');
  await post('/v1/tokens', { role: 'entrant', holder: 'Driver 7', entryId: entries[0] }).expect(201);
  const started = await steps(eventId);
  expect(started.entrantsCanStart).toBe(true);
  expect(started.steps.at(-1)?.missing).toMatchObject([{ code: 'some-links', count: 1 }]);

  t.clock.set('2026-06-12T16:00:00.000Z');
  expect(missing(await steps(eventId))).toContain('window-closed');
  t.clock.set('2026-06-13T22:00:00.000Z');
  expect(missing(await steps(eventId))).toContain('event-over');
});
