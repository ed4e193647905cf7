import { randomUUID } from 'node:crypto';
import { GOOD_ANSWERS, SMALL_RULE_SET } from '../support/event.ts';
import { type Answer, send, sendOk } from './http.ts';

/** An event that is on right now, with a token for each role, made through the API. */
export interface Club {
  eventId: string;
  runGroupId: string;
  organizer: string;
  inspector: string;
  chief: string;
  marshal: string;
}

export interface Car {
  entryId: string;
  carNumber: string;
  entrant: string;
}

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const instant = (offset: number) => new Date(Date.now() + offset).toISOString();
const day = (offset: number) => instant(offset).slice(0, 10);

/** Answers that meet every rule of the small set today. */
export const goodAnswers = () => ({ ...GOOD_ANSWERS, 'brake-fluid.flushed-on': day(-60 * DAY) });

/** Answers that a rule bars: one pad is below the 4 mm of the small set. */
export const thinPadAnswers = () => ({
  ...goodAnswers(),
  'pad.thickness': { ...GOOD_ANSWERS['pad.thickness'], 'FL.in': 3.5 },
});

/** Venue, rule set, event of four days around now, one run group, staff. */
export async function setUpClub(base: string, organizer: string): Promise<Club> {
  const post = (path: string, body: unknown, headers: Record<string, string> = {}) =>
    sendOk(base, { method: 'POST', path, body, headers, token: organizer });
  const { venueId } = await post('/v1/venues', { name: 'Test circuit', timeZone: 'Etc/UTC' });
  const { eventId } = await post('/v1/events', {
    name: 'Test event',
    venueId,
    startsOn: day(-DAY),
    endsOn: day(2 * DAY),
    declarationsOpenAt: instant(-2 * DAY),
    declarationsCloseAt: instant(DAY),
  });
  const draft = await send(base, {
    method: 'POST',
    path: '/v1/rule-sets',
    body: { name: 'Test rules', document: SMALL_RULE_SET },
    token: organizer,
  });
  const { ruleSetId } = draft.body;
  const etag = draft.headers.get('etag') ?? '';
  await post(`/v1/rule-sets/${String(ruleSetId)}/publish`, { changelog: 'First version' }, { 'if-match': etag });
  const { runGroupId } = await post(`/v1/events/${String(eventId)}/run-groups`, {
    name: 'Novice',
    order: 1,
    firstSessionAt: instant(HOUR),
    ruleSetId,
    ruleSetVersion: 1,
    parameters: {},
  });
  const mint = (role: string) => mintToken(base, organizer, { role, holder: `Test ${role}`, eventIds: [eventId] });
  return {
    eventId: String(eventId),
    runGroupId: String(runGroupId),
    organizer,
    inspector: await mint('inspector'),
    chief: await mint('chief'),
    marshal: await mint('marshal'),
  };
}

async function mintToken(base: string, organizer: string, body: Record<string, unknown>): Promise<string> {
  const { token } = await sendOk(base, { method: 'POST', path: '/v1/tokens', body, token: organizer });
  return String(token);
}

/** An entry with the token of its entrant. */
export async function enterCar(base: string, club: Club, carNumber: string): Promise<Car> {
  const { entryId } = await sendOk(base, {
    method: 'POST',
    path: `/v1/events/${club.eventId}/entries`,
    token: club.organizer,
    body: {
      carNumber,
      runGroupId: club.runGroupId,
      entrant: { name: `Entrant of ${carNumber}` },
      vehicle: { description: 'Club coupé 2.0, 2014', body: 'closed', powertrain: 'combustion' },
    },
  });
  const details = { role: 'entrant', holder: `Entrant of ${carNumber}`, entryId };
  return { entryId: String(entryId), carNumber, entrant: await mintToken(base, club.organizer, details) };
}

/** Saves a first draft. */
export const saveDraft = (base: string, car: Car, answers: unknown = goodAnswers()) =>
  sendOk(
    base,
    {
      method: 'PUT',
      path: `/v1/entries/${car.entryId}/declaration`,
      token: car.entrant,
      headers: { 'if-match': '"0"' },
      body: { answers },
    },
    200,
  );

/** Submits: these answers, or the saved draft when they are undefined. */
export const submit = (base: string, car: Car, answers?: unknown, key: string = randomUUID()): Promise<Answer> =>
  send(base, {
    method: 'POST',
    path: `/v1/entries/${car.entryId}/inspections`,
    token: car.entrant,
    headers: { 'idempotency-key': key },
    body: answers === undefined ? {} : { answers },
  });

/** Claims a car by its number; returns the claim's id. */
export async function claimCar(base: string, club: Club, car: Car, leaseMinutes = 15): Promise<string> {
  const claim = await sendOk(base, {
    method: 'POST',
    path: `/v1/events/${club.eventId}/line/claims`,
    token: club.inspector,
    body: { carNumber: car.carNumber, leaseMinutes },
  });
  return String(claim['claimId']);
}

export const signOff = (base: string, club: Club, claimId: string, body: Record<string, unknown>): Promise<Answer> =>
  send(base, {
    method: 'POST',
    path: `/v1/claims/${claimId}/sign-off`,
    token: club.inspector,
    headers: { 'idempotency-key': randomUUID() },
    body: { checks: [], ...body },
  });

/** Takes a car all the way to an acceptance. */
export async function acceptCar(base: string, club: Club, car: Car): Promise<void> {
  const submitted = await submit(base, car, goodAnswers());
  if (submitted.status !== 201) throw new Error(JSON.stringify(submitted.body));
  const claimId = await claimCar(base, club, car);
  const signed = await signOff(base, club, claimId, { decision: 'accept', stickerNumber: `S${car.carNumber}` });
  if (signed.status !== 201) throw new Error(JSON.stringify(signed.body));
}

/** What the gate says: whether to admit, and the status. */
export async function askGate(
  base: string,
  club: Club,
  carNumber: string,
): Promise<{ admit: unknown; status: unknown }> {
  const path = `/v1/events/${club.eventId}/gate/${carNumber}`;
  const { admit, status } = await sendOk(base, { path, token: club.marshal }, 200);
  return { admit, status };
}
