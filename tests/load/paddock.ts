import { goodAnswers } from '../../seed/answers.ts';
import { carOf } from '../../seed/cars.ts';
import { apiClient, type Call, forEachOf, textOf } from '../../seed/demo/api-client.ts';
import { stageEvent, stageGroups } from '../../seed/demo/stage.ts';
import { demoEventAt } from '../../seed/demo-data.ts';

/** An event on the built-in rules, with everybody who will crowd in on it. */
export interface Paddock {
  eventId: string;
  entrants: readonly { entryId: string; carNumber: string; token: string; answers: unknown }[];
  inspectors: readonly string[];
  marshals: readonly string[];
}

export interface Size {
  entrants: number;
  inspectors: number;
  marshals: number;
}

const KINDS = ['coupe', 'hatch', 'saloon', 'roadster', 'targa'] as const;
const WIDTH = 8;

/** Makes all of it through the API: the rules that come with the server, and cars in good order by them. */
export async function stagePaddock(base: string, organizer: string, size: Size): Promise<Paddock> {
  const call = apiClient(base);
  const event = demoEventAt(new Date());
  const eventId = await stageEvent(call, organizer, event);
  const groups = await stageGroups(call, organizer, eventId, event);
  const entrants: Paddock['entrants'][number][] = [];
  const numbers = Array.from({ length: size.entrants }, (_, index) => index + 1);
  await forEachOf(numbers, WIDTH, async (number) => {
    const vehicle = carOf(KINDS[number % KINDS.length] ?? 'coupe');
    const carNumber = String(number);
    const body = { carNumber, runGroupId: groups.get('Novice'), entrant: { name: `Entrant ${number}` }, vehicle };
    const made = await call('POST', `/v1/events/${eventId}/entries`, { token: organizer, body });
    const entryId = textOf(made, 'entryId');
    const token = await mint(call, organizer, { role: 'entrant', holder: `Entrant ${number}`, entryId });
    entrants.push({ entryId, carNumber, token, answers: goodAnswers(vehicle, event.startsOn) });
  });
  const hire = async (role: string, count: number) => {
    const tokens: string[] = [];
    for (let place = 0; place < count; place += 1) {
      tokens.push(await mint(call, organizer, { role, holder: `Working ${role} ${place}`, eventIds: [eventId] }));
    }
    return tokens;
  };
  const inspectors = await hire('inspector', size.inspectors);
  return { eventId, entrants, inspectors, marshals: await hire('marshal', size.marshals) };
}

async function mint(call: Call, token: string, body: Record<string, unknown>): Promise<string> {
  return textOf(await call('POST', '/v1/tokens', { token, body }), 'token');
}
