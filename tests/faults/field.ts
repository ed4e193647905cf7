import { enterCar, type Car, type Club, setUpClub } from '../e2e/club.ts';
import { sendOk } from '../e2e/http.ts';
import type { Crew } from './plan.ts';

export interface Person {
  token: string;
  tokenId: string;
}

/** What the clients work on: an event, its cars, and tokens for everybody. */
export interface Field {
  bases: readonly string[];
  eventId: string;
  club: Club;
  cars: readonly Car[];
  crew: { inspectors: readonly Person[]; chiefs: readonly Person[]; marshals: readonly Person[] };
}

/** Makes event, cars and people through the API, before anything goes wrong. */
export async function setUpField(bases: readonly string[], organizer: string, crew: Crew): Promise<Field> {
  const base = bases[0] ?? '';
  const club = await setUpClub(base, organizer);
  const cars: Car[] = [];
  for (let number = 1; number <= crew.cars; number += 1) cars.push(await enterCar(base, club, String(number)));
  const hire = async (role: string, count: number): Promise<Person[]> => {
    const people: Person[] = [];
    for (let place = 0; place < count; place += 1) {
      const body = { role, holder: `Working ${role} ${place}`, eventIds: [club.eventId] };
      const made = await sendOk(base, { method: 'POST', path: '/v1/tokens', body, token: organizer });
      people.push({ token: String(made['token']), tokenId: String(made['tokenId']) });
    }
    return people;
  };
  return {
    bases,
    eventId: club.eventId,
    club,
    cars,
    crew: {
      inspectors: await hire('inspector', crew.inspectors),
      chiefs: await hire('chief', crew.chiefs),
      marshals: await hire('marshal', crew.marshals),
    },
  };
}
