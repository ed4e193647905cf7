import { type Block, type Say, tableOf, type Times } from './sheet.ts';
import type { DayOfSheet, EntryOfSheet, TicketOfSheet } from './store.ts';
import type { Vehicle } from '../../../domain/vehicle.ts';
import { hazardsOf, rescueKind, rescueOf } from '../../../domain/car/rescue.ts';
import { decideClearance } from '../../../domain/clearance/decide-clearance.ts';

const COUNTED = ['entered', 'withdrawn', 'undeclared', 'accepted', 'conditions', 'refused', 'notSeen', 'held'] as const;
type Counts = Record<(typeof COUNTED)[number], number>;

const nothing = (): Counts => Object.fromEntries(COUNTED.map((name) => [name, 0])) as Counts;

/** Where an entry stands by what happened to it, which stays true when the day is over; `held` besides. */
export function standOf({ facts }: Pick<EntryOfSheet, 'facts'>): Exclude<keyof Counts, 'entered' | 'held'> {
  if (facts.withdrawn) return 'withdrawn';
  const decision = facts.signOff?.decision;
  if (decision === 'refuse') return 'refused';
  if (decision === 'accept') return 'accepted';
  if (decision === 'accept-with-conditions') return 'conditions';
  return facts.declared === undefined ? 'undeclared' : 'notSeen';
}

/** Entries of each run group by where they stand; all but `held` add up to `entered`. */
export function countGroups(entries: readonly EntryOfSheet[]): Map<string, Counts> {
  const groups = new Map<string, Counts>();
  for (const entry of entries) {
    const counts = groups.get(entry.runGroup) ?? nothing();
    groups.set(entry.runGroup, counts);
    counts.entered += 1;
    counts[standOf(entry)] += 1;
    if (entry.facts.holds.length + entry.carFacts.holds.length > 0) counts.held += 1;
  }
  return groups;
}

function countsBlock(entries: readonly EntryOfSheet[], say: Say): Block {
  const groups = countGroups(entries);
  const all = nothing();
  for (const counts of groups.values()) for (const name of COUNTED) all[name] += counts[name];
  const row = (name: string, counts: Counts) => [name, ...COUNTED.map((one) => String(counts[one]))];
  const rows = [...[...groups].map(([name, counts]) => row(name, counts)), row(say('day.total'), all)];
  const columns = [['group', 2], ...COUNTED.map((name) => [name, 1.2] as const)] as const;
  return tableOf(say, columns, rows, { heading: say('day.counts') });
}

const NUMBER = ['number', 1.2] as const;
const GROUP = ['group', 1.8] as const;

/** @param titleOf the title of a rule in the language of the sheet */
export type TitleOf = (exception: DayOfSheet['exceptions'][number]) => string;

function exceptionsBlock(day: DayOfSheet, { say, times }: Writing, titleOf: TitleOf): Block {
  const rows = day.exceptions.map((one) => {
    const second = one.approvedBy;
    const unapproved = one.needsSecondPerson && second === null;
    const by = second === null ? one.by : say('day.approved', { by: one.by, second });
    const revoked = one.revokedBy !== null;
    return [
      one.carNumber,
      one.runGroup,
      titleOf(one),
      one.reason,
      unapproved ? say('day.unapproved', { by: one.by }) : by,
      times.at(one.expiresAt),
      revoked ? say('day.revoked', { by: one.revokedBy ?? '', reason: one.revokeReason ?? '' }) : say('day.stands'),
    ];
  });
  const columns = [NUMBER, GROUP, ['rule', 3], ['reason', 3], ['by', 2.4], ['until', 1.7], ['status', 2]] as const;
  return tableOf(say, columns, rows, { heading: say('day.exceptions'), empty: say('none') });
}

function holdsBlock(day: DayOfSheet, { say, times }: Writing): Block {
  const rows = day.holds.map(({ carNumber, runGroup, reason, at, by, liftedAt, liftedBy, liftReason }) => [
    carNumber,
    runGroup,
    times.at(at),
    by,
    reason,
    liftedAt === null
      ? say('day.stands')
      : say('day.lifted', { time: times.at(liftedAt), by: liftedBy ?? '', reason: liftReason ?? '' }),
  ]);
  const columns = [NUMBER, GROUP, ['at', 1.7], ['by', 2], ['reason', 3], ['lifted', 3]] as const;
  return tableOf(say, columns, rows, { heading: say('day.holds'), empty: say('none') });
}

/** The state of the history, which whoever holds the paper can hold the server to. */
function headBlock({ head, unsealed }: DayOfSheet, say: Say): Block {
  const lines = [
    say('day.size', { size: head?.size ?? 0 }),
    say('day.root', { root: head?.root ?? '–' }),
    ...(unsealed === 0 ? [] : [say('day.unsealed', { count: unsealed })]),
    say('day.compare'),
  ];
  return { heading: say('day.head'), lines, columns: [], rows: [] };
}

/** What the day came to, for the file: counts, what was refused, held, excepted, what is open, the head of the history. */
export function dayBlocks(
  entries: readonly EntryOfSheet[],
  day: DayOfSheet,
  writing: Writing,
  titleOf: TitleOf,
): Block[] {
  const { say, times } = writing;
  const empty = say('none');
  const refused = day.refusals.map(({ carNumber, runGroup, at, by, note }) => [
    carNumber,
    runGroup,
    times.at(at),
    by,
    note ?? '',
  ]);
  const open = day.conditions.map(({ carNumber, runGroup, text, dueAt }) => [
    carNumber,
    runGroup,
    text,
    dueAt === null ? '–' : times.at(dueAt),
  ]);
  const gate = day.contradictions.map(({ carNumber, at, by, status, contradicts }) => [
    carNumber,
    times.at(at),
    by,
    say(`status.${status}`),
    say(`status.${contradicts}`),
  ]);
  return [
    countsBlock(entries, say),
    tableOf(say, [NUMBER, GROUP, ['at', 1.7], ['by', 2], ['reason', 5]], refused, {
      heading: say('day.refusals'),
      empty,
    }),
    holdsBlock(day, writing),
    exceptionsBlock(day, writing, titleOf),
    tableOf(say, [NUMBER, GROUP, ['condition', 6], ['due', 1.7]], open, { heading: say('day.open'), empty }),
    tableOf(say, [NUMBER, ['at', 1.7], ['by', 2], ['gate', 3], ['history', 3]], gate, {
      heading: say('day.gate'),
      empty,
    }),
    headBlock(day, say),
    { heading: say('day.sign'), lines: [say('day.signLine')], columns: [], rows: [] },
  ];
}

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
