import { addDays, plainDateAt, startOfDay } from '../src/domain/calendar.ts';
import type { RawAnswers } from '../src/domain/declaration/declaration.ts';
import type { Vehicle } from '../src/domain/vehicle.ts';
import { changeAnswers, goodAnswers } from './answers.ts';
import { type Overrides, PROFILES } from './built-in.ts';
import { carOf } from './cars.ts';
import { ADVANCED_ENTRIES } from './demo/entries-advanced.ts';
import { INTERMEDIATE_ENTRIES } from './demo/entries-intermediate.ts';
import { NOVICE_ENTRIES } from './demo/entries-novice.ts';
import type { DemoEntry, GroupName } from './demo/plan.ts';

export const DEMO_VENUE = {
  name: 'Alder Ridge Circuit',
  timeZone: 'Europe/Berlin',
  lapLengthM: 3420,
  brakingZones: [
    { name: 'Mill hairpin', fromKmh: 212, toKmh: 74 },
    { name: 'Quarry chicane', fromKmh: 188, toKmh: 96 },
    { name: 'Orchard left', fromKmh: 164, toKmh: 118 },
    { name: 'Weir corner', fromKmh: 196, toKmh: 88 },
  ],
  topSpeedKmh: 224,
  soundLimit: { levelDb: 92, distanceM: 20 },
  designAirTemperatureC: 28,
} as const;

/** Everything of the event that depends on the day the demo runs. */
export interface DemoEvent {
  name: string;
  startsOn: string;
  endsOn: string;
  declarationsOpenAt: string;
  declarationsCloseAt: string;
  zeroTwins: 'allow';
}

const HOUR_MS = 3_600_000;

function clockOn(day: string, hours: number): string {
  return new Date(startOfDay(day, DEMO_VENUE.timeZone).getTime() + hours * HOUR_MS).toISOString();
}

/** The two-day event, today and tomorrow at the venue. */
export function demoEventAt(now: Date): DemoEvent {
  const startsOn = plainDateAt(now, DEMO_VENUE.timeZone);
  const endsOn = addDays(startsOn, 1);
  return {
    name: `Alder Ridge Motor Club weekend, ${startsOn}`,
    startsOn,
    endsOn,
    declarationsOpenAt: clockOn(addDays(startsOn, -14), 8),
    declarationsCloseAt: clockOn(endsOn, 18),
    // Cars 7 and 07 are both in it.
    zeroTwins: 'allow',
  };
}

interface DemoGroup {
  name: GroupName;
  order: number;
  firstSessionAt: string;
  parameters: Overrides;
}

/** Three groups on one rule set; they differ in parameters only. */
export function demoGroups({ startsOn }: DemoEvent): DemoGroup[] {
  return [
    { name: 'Novice', order: 1, firstSessionAt: clockOn(startsOn, 9), parameters: PROFILES.novice },
    { name: 'Intermediate', order: 2, firstSessionAt: clockOn(startsOn, 9.5), parameters: PROFILES.intermediate },
    { name: 'Advanced', order: 3, firstSessionAt: clockOn(startsOn, 10), parameters: PROFILES.advanced },
  ];
}

/** When a condition that is not due at once must be done: the second morning. */
export function secondMorning({ endsOn }: DemoEvent): string {
  return clockOn(endsOn, 9);
}

export const DEMO_ENTRIES: readonly DemoEntry[] = [...NOVICE_ENTRIES, ...INTERMEDIATE_ENTRIES, ...ADVANCED_ENTRIES];

/** The car of an entry; that of a shared number is the one it was entered with first. */
export function demoVehicle(entry: DemoEntry): Vehicle {
  const kind = entry.car ?? DEMO_ENTRIES.find((other) => other.number === entry.number && other.car)?.car;
  if (kind === undefined) throw new Error(`car ${entry.number} has no vehicle`);
  return carOf(kind);
}

/** What the entrant of an entry declares. */
export function demoAnswers(entry: DemoEntry, startsOn: string): RawAnswers {
  const vehicle = demoVehicle(entry);
  return changeAnswers(goodAnswers(vehicle, startsOn), entry.changes ?? {}, vehicle);
}
