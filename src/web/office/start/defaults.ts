import { toWallClock } from '../../shared/wall-clock.ts';

const DAY_MS = 86_400_000;

/** Days after a day, both YYYY-MM-DD. */
export const dayAfter = (day: string, days: number): string =>
  new Date(Date.parse(`${day}T00:00:00.000Z`) + days * DAY_MS).toISOString().slice(0, 10);

export interface EventDefaults {
  startsOn: string;
  endsOn: string;
  opensAt: string;
  closesAt: string;
}

/**
 * What a new event begins with: the Saturday that is at least a week away, so that entrants have time; declarations from
 * now until 18:00 on the day before. Wall clock at the venue.
 */
export function eventDefaults(now: Date, timeZone: string): EventDefaults {
  const clock = toWallClock(now.toISOString(), timeZone);
  const inAWeek = dayAfter(clock.slice(0, 10), 7);
  const weekday = new Date(`${inAWeek}T00:00:00.000Z`).getUTCDay();
  const startsOn = dayAfter(inAWeek, (6 - weekday + 7) % 7);
  return { startsOn, endsOn: startsOn, opensAt: clock, closesAt: `${dayAfter(startsOn, -1)}T18:00` };
}

/** What the run groups of a new event begin with: name by profile, first sessions twenty minutes apart from 09:00. */
export const GROUP_PLAN = [
  { profile: 'novice', time: '09:00' },
  { profile: 'intermediate', time: '09:20' },
  { profile: 'advanced', time: '09:40' },
] as const;
