import { randomUUID } from 'node:crypto';
import { changeAnswers, goodAnswers } from '../../../seed/answers.ts';
import { carOf } from '../../../seed/cars.ts';
import { demoEventAt } from '../../../seed/demo-data.ts';
import { apiClient, type Call, forEachOf, listOf, textOf } from '../../../seed/demo/api-client.ts';
import { stageEvent, stageGroups } from '../../../seed/demo/stage.ts';
import type { BenchService } from '../gate-service.ts';

export interface ClubEntry {
  entryId: string;
  carNumber: string;
  token: string;
}

/** One event under the built-in rules with many entries of one kind of car, each car a vehicle of its own. */
export interface Club {
  eventId: string;
  groupId: string;
  chief: string;
  inspector: string;
  entries: ClubEntry[];
  /** a complete declaration */
  answers: Record<string, unknown>;
  call: Call;
}

const WIDTH = 6;
/** Something that the line looks at. */
const WEEP = { 'engine.leaks@engine-oil': 'weep', 'engine.weep-reaches@engine-oil': 'none-of-these' };

export async function makeClub(service: Pick<BenchService, 'base' | 'organizer'>, cars: number): Promise<Club> {
  const call = apiClient(service.base);
  const token = service.organizer;
  const event = demoEventAt(new Date());
  const eventId = await stageEvent(call, token, event);
  const groups = await stageGroups(call, token, eventId, event);
  const groupId = groups.get('Novice') ?? '';
  const mint = async (body: Record<string, unknown>) =>
    textOf(await call('POST', '/v1/tokens', { token, body }), 'token');
  const vehicle = carOf('coupe');
  const entries: ClubEntry[] = [];
  await forEachOf(
    Array.from({ length: cars }, (_, at) => at),
    WIDTH,
    async (at) => {
      const carNumber = `B${at}`;
      const entrant = { name: `Entrant ${at}` };
      const body = { carNumber, runGroupId: groupId, entrant, vehicle };
      const entryId = textOf(await call('POST', `/v1/events/${eventId}/entries`, { token, body }), 'entryId');
      entries.push({ entryId, carNumber, token: await mint({ role: 'entrant', holder: entrant.name, entryId }) });
    },
  );
  return {
    eventId,
    groupId,
    chief: await mint({ role: 'chief', holder: 'Bench chief', eventIds: [eventId] }),
    inspector: await mint({ role: 'inspector', holder: 'Bench inspector', eventIds: [eventId] }),
    entries,
    answers: changeAnswers(goodAnswers(vehicle, event.startsOn), WEEP, vehicle),
    call,
  };
}

/** Submits and claims; returns the claim and what a sign-off of it is sent with. */
export async function claimOf(club: Club, entry: ClubEntry): Promise<{ claimId: string; body: unknown }> {
  const { call, eventId, inspector } = club;
  await call('POST', `/v1/entries/${entry.entryId}/inspections`, {
    token: entry.token,
    body: { answers: club.answers },
    idempotencyKey: randomUUID(),
  });
  const claim = await call('POST', `/v1/events/${eventId}/line/claims`, {
    token: inspector,
    body: { carNumber: entry.carNumber },
  });
  const checks = listOf(claim, 'pointsToCheck')
    .filter(({ asked }) => asked !== 'usual')
    .map(({ item, position }) => ({ item, ...(position !== undefined && { position }), result: 'ok' }));
  const body = { decision: 'accept', stickerNumber: randomUUID().slice(-12), checks };
  return { claimId: textOf(claim, 'claimId'), body };
}

/** For each of these, some at the same time. */
export const prepare = <T>(entries: readonly ClubEntry[], one: (entry: ClubEntry) => Promise<T>): Promise<T[]> => {
  const made: T[] = [];
  const places = entries.map((entry, at) => ({ entry, at }));
  return forEachOf(places, WIDTH, async ({ entry, at }) => {
    made[at] = await one(entry);
  }).then(() => made);
};
