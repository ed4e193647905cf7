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
  /** long straights into slow corners */
  heavy: {
    lapLengthM: 5100,
    brakingZones: [
      { name: 'End of the straight', fromKmh: 238, toKmh: 84 },
      { name: 'Chicane', fromKmh: 226, toKmh: 92 },
      { name: 'Hairpin', fromKmh: 208, toKmh: 66 },
      { name: 'Last corner', fromKmh: 194, toKmh: 110 },
    ],
    topSpeedKmh: 246,
    soundLimit: { levelDb: 92, distanceM: 20 },
    designAirTemperatureC: 32,
  },
  /** as heavy, with one slow corner after the other on a short lap */
  mountain: {
    lapLengthM: 3900,
    brakingZones: [
      { name: 'End of the straight', fromKmh: 238, toKmh: 80 },
      { name: 'Chicane', fromKmh: 226, toKmh: 84 },
      { name: 'Hairpin', fromKmh: 214, toKmh: 66 },
      { name: 'Last corner', fromKmh: 202, toKmh: 90 },
    ],
    topSpeedKmh: 246,
    soundLimit: { levelDb: 92, distanceM: 20 },
    designAirTemperatureC: 34,
  },
  /** a kart-like track: never fast */
  slow: {
    lapLengthM: 1600,
    brakingZones: [{ name: 'Loop', fromKmh: 118, toKmh: 62 }],
    topSpeedKmh: 125,
    soundLimit: { levelDb: 92, distanceM: 20 },
    designAirTemperatureC: 22,
  },
  /** where sound is measured close to the tailpipe */
  static: { topSpeedKmh: 190, soundLimit: { levelDb: 100, distanceM: 0.5 }, designAirTemperatureC: 24 },
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
