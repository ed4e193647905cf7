import { type Vehicle } from '../../../domain/vehicle.ts';
import { hazardsOf, rescueKind, rescueOf } from '../../../domain/car/rescue.ts';
import { decideClearance } from '../../../domain/clearance/decide-clearance.ts';
import { type Block, type Say, tableOf, type Times } from './sheet.ts';
import type { EntryOfSheet, TicketOfSheet } from './store.ts';

/** What a sheet is written with. */
export interface Writing {
  say: Say;
  times: Times;
  now: Date;
}

/** The car as a person knows it. */
export const carText = ({ description, colour }: Vehicle): string =>
  colour === undefined ? description : `${description}, ${colour}`;

/** The line in its order, with room for what is written by hand. */
export function lineBlocks(line: readonly TicketOfSheet[], { say, times }: Writing): Block[] {
  const rows = line.map(({ carNumber, runGroup, vehicle, firstSessionAt, verdict, inspector }, place) => [
    String(place + 1),
    carNumber,
    carText(vehicle),
    runGroup,
    times.at(firstSessionAt),
    say(`verdict.${verdict}`),
    inspector ?? '',
    '',
  ]);
  const columns = [
    ['place', 1],
    ['number', 1.4],
    ['car', 4],
    ['group', 2],
    ['first', 2],
    ['verdict', 2.2],
    ['inspector', 2.2],
    ['sticker', 1.8],
  ] as const;
  return [tableOf(say, columns, rows, { empty: say('line.none') })];
}

/** What the gate says of every entry at this moment. Whatever is not a clear yes reads as no. */
export function gateBlocks(entries: readonly EntryOfSheet[], { say, times, now }: Writing): Block[] {
  const rows = entries.map(({ carNumber, runGroup, vehicle, state }) => {
    const { admit, status, reason, validUntil, conditions } = decideClearance(state, now);
    const answer = !admit ? 'no' : conditions.length > 0 ? 'go-conditions' : 'go';
    const open = conditions.map(({ text, dueAt }) => (dueAt === undefined ? text : `${text} (${times.at(dueAt)})`));
    const why = admit ? [say(`status.${status}`), ...open] : [say(`status.${status}`), times.within(reason)];
    const until = admit && validUntil !== null ? times.at(validUntil) : '';
    return [carNumber, carText(vehicle), runGroup, say(answer), why.join('; '), until];
  });
  const columns = [
    ['number', 1.2],
    ['car', 3],
    ['group', 1.8],
    ['answer', 2],
    ['why', 5],
    ['until', 1.7],
  ] as const;
  return [tableOf(say, columns, rows, { empty: say('entries.none') })];
}

/** Who drives what, and how far each is. */
export function entryBlocks(entries: readonly EntryOfSheet[], { say, now }: Writing): Block[] {
  const rows = entries.map(({ carNumber, runGroup, entrant, people, vehicle, state, sticker }) => [
    carNumber,
    runGroup,
    entrant ?? '',
    people.map(({ name }) => name).join(', '),
    carText(vehicle),
    say(`status.${decideClearance(state, now).status}`),
    sticker ?? '',
  ]);
  const columns = [
    ['number', 1.3],
    ['group', 2],
    ['entrant', 2.6],
    ['people', 2.6],
    ['car', 3],
    ['status', 2.4],
    ['sticker', 1.5],
  ] as const;
  return [tableOf(say, columns, rows, { empty: say('entries.none') })];
}

/** Cars that rescuers must treat otherwise than a petrol car, and those of which nobody said. A shared car stands once. */
export function rescueBlocks(entries: readonly EntryOfSheet[], { say }: Writing): Block[] {
  const cars = new Map(
    entries.map(({ carNumber, vehicle }) => [JSON.stringify([carNumber, vehicle]), { carNumber, vehicle }]),
  );
  const known = [...cars.values()].map((car) => ({ ...car, rescue: rescueOf(car.vehicle) }));
  const special = known.filter(({ rescue }) => rescueKind(rescue) === 'special');
  const unknown = known.filter(({ rescue }) => rescueKind(rescue) === 'not-stated');
  const rows = special.map(({ carNumber, vehicle, rescue }) => [
    carNumber,
    vehicle.colour ?? '–',
    vehicle.description,
    [
      ...hazardsOf(rescue).map((one) => say(`hazard.${one}`)),
      ...(rescue.volts === undefined ? [] : [`${rescue.volts} V`]),
    ].join(', '),
    rescue.disconnectAt ?? say('rescue.noPlace'),
  ]);
  const columns = [
    ['number', 1.2],
    ['colour', 1.6],
    ['car', 2.8],
    ['hazard', 3],
    ['disconnect', 4],
  ] as const;
  const told = tableOf(say, columns, rows, { empty: say('rescue.none') });
  if (unknown.length === 0) return [told];
  const names = unknown.map(({ carNumber, vehicle }) => `${carNumber} (${carText(vehicle)})`);
  return [told, { heading: say('rescue.unknown'), lines: [names.join(' · ')], columns: [], rows: [] }];
}
