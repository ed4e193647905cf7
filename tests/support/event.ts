import { randomUUID } from 'node:crypto';
import type { TestApp, TestToken } from './app.ts';

/** A small rule set that shows every effect, with a parameter that groups override. */
export const SMALL_RULE_SET = {
  name: 'Small test rules',
  parameters: {
    padMinimum: { value: 4, unit: 'mm', meaning: 'Least friction material' },
    fluidMaxAge: { value: 12, unit: 'month', meaning: 'Oldest brake fluid' },
  },
  rules: [
    {
      id: 'pad-thickness',
      title: 'Brake pad friction material',
      items: ['pad.thickness'],
      test: { kind: 'limit', item: 'pad.thickness', atLeast: { parameter: 'padMinimum' } },
      effect: 'bar',
      message: 'The pad is too thin to last the event.',
      fix: 'Fit new pads on both sides of the axle.',
      basis: { kind: 'common-practice' },
    },
    {
      id: 'pedal-firm',
      title: 'Brake pedal',
      items: ['brake.pedal'],
      test: { kind: 'one-of', item: 'brake.pedal', values: ['firm'] },
      effect: 'bar',
      message: 'The pedal is not firm.',
      fix: 'Find the cause, bleed the brakes.',
      basis: { kind: 'common-practice' },
    },
    {
      id: 'fluid-age',
      title: 'Brake fluid age',
      items: ['brake-fluid.flushed-on'],
      test: { kind: 'age', item: 'brake-fluid.flushed-on', atMost: { parameter: 'fluidMaxAge' } },
      effect: 'bar',
      message: 'The fluid is too old.',
      fix: 'Flush it.',
      basis: { kind: 'common-practice' },
    },
    {
      id: 'radiator-clear',
      title: 'Radiator core',
      items: ['radiator.debris'],
      test: { kind: 'one-of', item: 'radiator.debris', values: ['clear'] },
      effect: 'inspect',
      message: 'The core is not clear.',
      fix: 'Clean it from behind.',
      basis: { kind: 'common-practice' },
    },
    {
      id: 'mats-out',
      title: 'Floor mats',
      items: ['body.floor-mats-out'],
      test: { kind: 'confirm', item: 'body.floor-mats-out' },
      effect: 'advise',
      message: 'Loose mats can block a pedal.',
      fix: 'Take them out.',
      basis: { kind: 'common-practice' },
    },
  ],
  examples: [],
};

/** Answers that meet every rule of the small set in June 2026. */
export const GOOD_ANSWERS = {
  'pad.thickness': Object.fromEntries(
    ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'].map((position) => [position, 8]),
  ),
  'brake.pedal': 'firm',
  'brake-fluid.flushed-on': '2026-04-01',
  'radiator.debris': 'clear',
  'body.floor-mats-out': true,
};

export interface TestEvent {
  venueId: string;
  eventId: string;
  ruleSetId: string;
  /** novice, pads of 4 mm; its first session is the earlier one */
  novice: string;
  /** advanced, pads of 6 mm */
  advanced: string;
}

/** An event of its own for a test, made through the API: 13 and 14 June 2026, declarations open 1 to 12 June. */
export async function createTestEvent(test: TestApp, ruleSet: unknown = SMALL_RULE_SET): Promise<TestEvent> {
  const api = test.api('organizer');
  const venue = await api.post('/v1/venues').send({ name: 'Test circuit', timeZone: 'Europe/Berlin' }).expect(201);
  const event = await api
    .post('/v1/events')
    .send({
      name: `Test event ${randomUUID()}`,
      venueId: venue.body.venueId,
      startsOn: '2026-06-13',
      endsOn: '2026-06-14',
      declarationsOpenAt: '2026-06-01T06:00:00Z',
      declarationsCloseAt: '2026-06-12T18:00:00Z',
      // Many tests have 7 and 07 side by side; what is refused by default has tests of its own.
      zeroTwins: 'allow',
    })
    .expect(201);
  const draft = await api.post('/v1/rule-sets').send({ name: 'Test rules', document: ruleSet }).expect(201);
  const { ruleSetId } = draft.body;
  await api
    .post(`/v1/rule-sets/${ruleSetId}/publish`)
    .set('if-match', draft.headers['etag'] ?? '')
    .send({ changelog: 'First version' })
    .expect(201);
  const { eventId } = event.body;
  const group = async (name: string, order: number, firstSessionAt: string, padMinimum: number) => {
    const body = {
      name,
      order,
      firstSessionAt,
      ruleSetId,
      ruleSetVersion: 1,
      parameters: ruleSet === SMALL_RULE_SET ? { padMinimum: { value: padMinimum, unit: 'mm' } } : {},
    };
    const created = await api.post(`/v1/events/${eventId}/run-groups`).send(body).expect(201);
    return created.body.runGroupId as string;
  };
  return {
    venueId: venue.body.venueId,
    eventId,
    ruleSetId,
    novice: await group('Novice', 1, '2026-06-13T07:00:00Z', 4),
    advanced: await group('Advanced', 2, '2026-06-13T07:30:00Z', 6),
  };
}

export interface TestEntry {
  entryId: string;
  carNumber: string;
  entrant: TestToken;
}

let nextNumber = 100;

/** An entry with a token for its entrant. */
export async function createTestEntry(
  test: TestApp,
  event: TestEvent,
  overrides: Record<string, unknown> = {},
): Promise<TestEntry> {
  const carNumber = typeof overrides['carNumber'] === 'string' ? overrides['carNumber'] : String(nextNumber++);
  const body = {
    carNumber,
    runGroupId: event.novice,
    entrant: { name: `Entrant of ${carNumber}` },
    vehicle: { description: 'Club coupé 2.0, 2014', body: 'closed', powertrain: 'combustion' },
    ...overrides,
  };
  const created = await test.api('organizer').post(`/v1/events/${event.eventId}/entries`).send(body).expect(201);
  const { entryId } = created.body;
  return { entryId, carNumber, entrant: await test.mint('entrant', { holder: `Entrant of ${carNumber}`, entryId }) };
}

/** Submits a declaration and returns the answer. */
export async function submit(test: TestApp, entry: TestEntry, answers: unknown = GOOD_ANSWERS, key = randomUUID()) {
  return test
    .api(entry.entrant)
    .post(`/v1/entries/${entry.entryId}/inspections`)
    .set('idempotency-key', key)
    .send({ answers });
}

/** Claims a car by its number. */
export async function claim(
  test: TestApp,
  event: TestEvent,
  carNumber: string,
  as: 'inspector' | 'chief' | TestToken = 'inspector',
) {
  return test.api(as).post(`/v1/events/${event.eventId}/line/claims`).send({ carNumber });
}

/** Signs a claim off. */
export async function signOff(
  test: TestApp,
  claimId: string,
  body: Record<string, unknown>,
  as: 'inspector' | 'chief' | TestToken = 'inspector',
  key = randomUUID(),
) {
  return test
    .api(as)
    .post(`/v1/claims/${claimId}/sign-off`)
    .set('idempotency-key', key)
    .send({ checks: [], ...body });
}

/** Takes an entry all the way to an acceptance. */
export async function accept(test: TestApp, event: TestEvent, entry: TestEntry, body: Record<string, unknown> = {}) {
  await submit(test, entry);
  const claimed = await claim(test, event, entry.carNumber);
  return signOff(test, claimed.body.claimId, { decision: 'accept', stickerNumber: `S${entry.carNumber}`, ...body });
}

/** What the gate says. */
export async function gate(test: TestApp, event: TestEvent, carNumber: string, query = '') {
  const answer = await test.api('marshal').get(`/v1/events/${event.eventId}/gate/${carNumber}${query}`);
  return answer.body as { admit: boolean; status: string; reason: string; similar: string[] } & Record<string, unknown>;
}
