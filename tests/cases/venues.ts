import { DEMO_VENUE } from '../../seed/demo-data.ts';
import type { VenueFacts } from '../../src/domain/rules/model/rule-set.ts';

/** A venue as the API takes it, without a name. */
interface Venue {
  lapLengthM?: number;
  brakingZones?: readonly { name?: string; fromKmh: number; toKmh: number }[];
  topSpeedKmh?: number;
  soundLimit?: { levelDb: number; distanceM: number };
  designAirTemperatureC?: number;
}

const { name: _, timeZone: __, ...CLUB } = DEMO_VENUE;

/** Invented circuits. `club`: where a case says nothing. */
export const VENUES = {
  club: CLUB,
  /** four long stops from high speed on a short lap */
  heavy: {
    lapLengthM: 3400,
    brakingZones: [1, 2, 3, 4].map((corner) => ({ name: `Corner ${corner}`, fromKmh: 238, toKmh: 70 })),
    topSpeedKmh: 246,
    soundLimit: { levelDb: 95, distanceM: 20 },
    designAirTemperatureC: 34,
  },
  /** a kart-like track: never fast */
  slow: {
    lapLengthM: 1600,
    brakingZones: [{ name: 'Loop', fromKmh: 118, toKmh: 62 }],
    topSpeedKmh: 125,
    soundLimit: { levelDb: 98, distanceM: 0.5 },
    designAirTemperatureC: 22,
  },
  /** of which only the name is known */
  unknown: {},
} as const satisfies Record<string, Venue>;

export type VenueName = keyof typeof VENUES;
export const VENUE_NAMES = Object.keys(VENUES) as [VenueName, ...VenueName[]]; // the keys of a constant record

/** What rules read of a venue. */
export function venueFacts(name: VenueName = 'club'): VenueFacts {
  const { soundLimit, brakingZones = [], ...venue }: Venue = VENUES[name];
  return {
    ...venue,
    ...(brakingZones.length > 0 && { brakingZones: [...brakingZones] }),
    ...(soundLimit && { soundLimitDb: soundLimit.levelDb, soundDistanceM: soundLimit.distanceM }),
  };
}
