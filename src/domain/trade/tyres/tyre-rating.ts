import { z } from 'zod';
import { roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, type Source, type WorkStep } from '../calculation.ts';
import { loadOfIndex, loadPercentAtSpeed, speedOfSymbol, Y_FULL_UP_TO_KMH } from './tyre-rating-tables.ts';

/** A tyre's service description, taken apart. */
interface TyreRating {
  /** first index: the one for single wheels */
  loadIndex: number;
  /** second index of `121/119`, for twin wheels */
  twinLoadIndex?: number;
  loadKg: number;
  symbol: string;
  /** km/h up to which the symbol speaks */
  symbolKmh: number;
  /** made for more than `symbolKmh`, and only the maker says how much: `ZR`, and brackets as in `(95Y)` */
  openEnded: boolean;
  extraLoad: boolean;
}

type RatingFault = 'bad-form' | 'unknown-load-index' | 'unknown-speed-symbol';

const SERVICE_DESCRIPTION =
  /^(?<open>\()?\s*(?<load>\d{2,3})(?:\/(?<twin>\d{2,3}))?\s*(?<symbol>ZR|[A-Z])\s*(?<close>\))?(?<extra>\s*XL)?$/u;

/**
 * Reads `91W`, `91V XL`, `94ZR`, `(95Y)`, `121/119Q`. `ZR` without a letter is for more than 240 km/h; a description in
 * brackets is for more than its symbol. Never throws.
 *
 * @see UNECE R30 service description as explained by charts and a car handbook (secondary): brackets around index and Y
 *   are above 300 km/h and the maker is to be asked
 */
function readTyreRating(text: string): TyreRating | RatingFault {
  const parts = SERVICE_DESCRIPTION.exec(text.trim().toUpperCase())?.groups;
  if (parts === undefined || (parts['open'] === undefined) !== (parts['close'] === undefined)) return 'bad-form';
  const { load = '', twin, symbol = '' } = parts;
  const loadKg = loadOfIndex(Number(load));
  if (loadKg === undefined || (twin !== undefined && loadOfIndex(Number(twin)) === undefined))
    return 'unknown-load-index';
  const symbolKmh = speedOfSymbol(symbol);
  if (symbolKmh === undefined) return 'unknown-speed-symbol';
  return {
    loadIndex: Number(load),
    ...(twin === undefined ? {} : { twinLoadIndex: Number(twin) }),
    loadKg,
    symbol,
    symbolKmh,
    openEnded: symbol === 'ZR' || parts['open'] !== undefined,
    extraLoad: parts['extra'] !== undefined,
  };
}

const FAULTS: Readonly<Record<RatingFault, string>> = {
  'bad-form': 'is not a load index and a speed symbol, for example 91W',
  'unknown-load-index': 'has a load index outside 60 to 123',
  'unknown-speed-symbol': 'has a speed symbol that is none of L to U, H, V, W, Y, ZR',
};

/**
 * Reads a tyre's load index and speed symbol (`readTyreRating`). Load in kg, speed in km/h.
 *
 * @throws NotComputable at `/rating`: `bad-form`, `unknown-load-index`, `unknown-speed-symbol`
 * @see `readTyreRating`
 */
export function parseTyreRating(text: string): TyreRating {
  const rating = readTyreRating(text);
  if (typeof rating !== 'string') return rating;
  throw notComputable('/rating', rating, `${JSON.stringify(text)} ${FAULTS[rating]}.`);
}

/**
 * kg that one tyre carries at a speed in km/h: the load of its index, less what V, W, Y and ZR lose near their speed.
 * Beyond its speed, the value at its speed. Never throws.
 *
 * @param yFullUpToKmh speed up to which a Y carries its full load; 270 from memory
 * @see V to 91 % at 240 km/h, W and ZR to 85 % at 270 km/h, Y to 85 % at 300 km/h (secondary)
 */
export function capacityAtSpeedKg(rating: TyreRating, speedKmh: number, yFullUpToKmh?: number): number {
  return (rating.loadKg * loadPercentAtSpeed(rating.symbol, speedKmh, yFullUpToKmh)) / 100;
}

/**
 * `parseTyreRating` for facts: `undefined` where it cannot be read. Load in kg, speed in km/h. Never throws. Source:
 * `readTyreRating`.
 */
export function findTyreRating(text: string): TyreRating | undefined {
  const rating = readTyreRating(text);
  return typeof rating === 'string' ? undefined : rating;
}

/** What a tyre rating says about a car. */
export interface RatingCover {
  loadOk: boolean;
  speedOk: boolean;
  /** per tyre at the car's speed or the symbol's, whichever is lower, kg */
  capacityKg: number;
  symbolKmh: number;
  /** the tyre is made for more than `symbolKmh`; the maker says how much */
  openEnded: boolean;
}

/**
 * Whether tyres with this rating carry half of an axle's load each (kg) at a car's or venue's top speed (km/h).
 * `undefined` when the rating cannot be read or a number is not above 0. Never throws. Speeds above the symbol's are
 * not ok, also where brackets or `ZR` promise more: only the maker says how much. Source: `readTyreRating` and
 * `capacityAtSpeedKg`.
 */
export function ratingCovers(rating: string, axleLoadKg: number, topSpeedKmh: number): RatingCover | undefined {
  const read = readTyreRating(rating);
  if (typeof read === 'string' || !(axleLoadKg > 0) || !(topSpeedKmh > 0)) return undefined;
  return coverOf(read, axleLoadKg / 2, topSpeedKmh);
}

function coverOf(rating: TyreRating, tyreLoadKg: number, topSpeedKmh: number, yFullUpToKmh?: number): RatingCover {
  const capacityKg = capacityAtSpeedKg(rating, topSpeedKmh, yFullUpToKmh);
  return {
    loadOk: tyreLoadKg <= capacityKg,
    speedOk: topSpeedKmh <= rating.symbolKmh,
    capacityKg,
    symbolKmh: rating.symbolKmh,
    openEnded: rating.openEnded,
  };
}

const SOURCES: readonly Source[] = [
  { title: 'Load index table of ISO 4000-1 and UNECE R30, read on public charts', standing: 'secondary' },
  { title: 'Speed symbols of UNECE R30, read on public charts', standing: 'secondary' },
  {
    title: 'Load capacity at speed: V to 91 % at 240 km/h, W and ZR to 85 % at 270 km/h, Y to 85 % at 300 km/h',
    standing: 'secondary',
  },
];

const LOAD = { min: 1, max: 6000 };
const input = z.strictObject({
  rating: z.string().max(20).describe('Load index and speed symbol from the sidewall: 91W, 91V XL, 94ZR, (95Y)'),
  axleLoadKg: measure('kg', 'Load on the axle the tyre is on, with driver', LOAD),
  topSpeedKmh: measure('km/h', 'Highest speed of the car at the venue', { min: 1, max: 500 }),
  heavierWheelKg: measure(
    'kg',
    'Load on the heavier wheel of that axle; half of the axle where not given',
    LOAD,
  ).optional(),
  yFullUpToKmh: measure('km/h', 'Speed up to which a Y tyre carries its full load; 270 where not given', {
    min: 200,
    max: 299,
  }).optional(),
  carKg: measure('kg', 'Mass of the whole car with driver, to check the axle load against', LOAD).optional(),
});
type Input = z.infer<typeof input>;

const result = z.object({
  loadIndex: z.int().describe('Load index (for single wheels)'),
  symbol: z.string().describe('Speed symbol'),
  symbolKmh: z.number().describe('Speed the symbol stands for, km/h'),
  openEnded: z.boolean().describe('Made for more than that speed; ask the maker how much'),
  ratedLoadKg: z.number().describe('Load of the index, kg per tyre'),
  capacityPercent: z.number().describe('Share of that load at the speed, %'),
  capacityKg: z.number().describe('Load the tyre carries at the speed, kg'),
  tyreLoadKg: z.number().describe('Load on the tyre, kg'),
  loadOk: z.boolean().describe('The tyre carries its load at that speed'),
  speedOk: z.boolean().describe('The speed is within the symbol'),
});

function readTyreLoad({ axleLoadKg, heavierWheelKg, carKg }: Input): number {
  if (carKg !== undefined && axleLoadKg > carKg) {
    throw notComputable(
      '/axleLoadKg',
      'beyond-car',
      `${axleLoadKg} kg on one axle is more than the whole car (${carKg} kg).`,
    );
  }
  if (heavierWheelKg === undefined) return axleLoadKg / 2;
  if (heavierWheelKg > axleLoadKg) {
    throw notComputable(
      '/heavierWheelKg',
      'beyond-axle',
      `${heavierWheelKg} kg on one wheel is more than its axle (${axleLoadKg} kg).`,
    );
  }
  if (heavierWheelKg * 2 >= axleLoadKg) return heavierWheelKg;
  throw notComputable(
    '/heavierWheelKg',
    'lighter-wheel',
    `${heavierWheelKg} kg is less than half of the axle: give the heavier wheel.`,
  );
}

const judgedAtKmh = (rating: TyreRating, topSpeedKmh: number): number =>
  Math.min(topSpeedKmh, rating.symbol === 'ZR' ? 270 : rating.symbolKmh);

function explain(rating: TyreRating, cover: RatingCover, asked: Input, tyreLoadKg: number): WorkStep[] {
  const percent = roundTo((cover.capacityKg / rating.loadKg) * 100, 1);
  return [
    {
      what: 'load of one tyre',
      formula: asked.heavierWheelKg === undefined ? 'axle load / 2' : 'heavier wheel',
      numbers: asked.heavierWheelKg === undefined ? `${asked.axleLoadKg} kg / 2` : `${tyreLoadKg} kg`,
      result: `${roundTo(tyreLoadKg, 1)} kg`,
    },
    {
      what: 'load the tyre carries at the speed',
      formula: 'load of the index · share at the speed',
      numbers: `${rating.loadKg} kg · ${percent} % at ${judgedAtKmh(rating, asked.topSpeedKmh)} km/h`,
      result: `${roundTo(cover.capacityKg, 1)} kg`,
    },
    {
      what: 'speed against the symbol',
      formula: 'top speed ≤ speed of the symbol',
      numbers: `${asked.topSpeedKmh} km/h ≤ ${rating.symbolKmh} km/h`,
      result: cover.speedOk ? 'yes' : 'no',
    },
  ];
}

function assumptionsFor(rating: TyreRating, asked: Input): Assumption[] {
  const made: Assumption[] = [];
  if (asked.heavierWheelKg === undefined) {
    made.push({ name: 'heavierWheelKg', value: 'both wheels carry the same', standing: 'common-practice' });
  }
  if (rating.symbol === 'Y' && asked.yFullUpToKmh === undefined) {
    made.push({ name: 'yFullUpToKmh', value: `${Y_FULL_UP_TO_KMH} km/h`, standing: 'from-memory' });
  }
  if (rating.openEnded) {
    const value = `judged up to ${rating.symbolKmh} km/h only; the maker says how much more`;
    made.push({ name: 'speed above the symbol', value, standing: 'secondary' });
  }
  if (rating.twinLoadIndex !== undefined) {
    made.push({ name: 'two load indices', value: 'the first, for single wheels', standing: 'secondary' });
  }
  return made;
}

/** A tyre's load index and speed symbol against the load on it and the speed it will see. */
export const TYRE_RATING = calculation({
  name: 'tyre-rating',
  title: 'Tyre load index and speed symbol',
  summary:
    'Whether a tyre carries its share of the axle load at the top speed, and whether its speed symbol covers it.',
  input,
  result,
  sources: SOURCES,
  example: { rating: '91V', axleLoadKg: 900, topSpeedKmh: 225 },
  compute(asked) {
    const rating = parseTyreRating(asked.rating);
    const tyreLoadKg = readTyreLoad(asked);
    const cover = coverOf(rating, tyreLoadKg, asked.topSpeedKmh, asked.yFullUpToKmh);
    return {
      result: {
        loadIndex: rating.loadIndex,
        symbol: rating.symbol,
        symbolKmh: rating.symbolKmh,
        openEnded: rating.openEnded,
        ratedLoadKg: rating.loadKg,
        capacityPercent: roundTo((cover.capacityKg / rating.loadKg) * 100, 1),
        capacityKg: roundTo(cover.capacityKg, 1),
        tyreLoadKg: roundTo(tyreLoadKg, 1),
        loadOk: cover.loadOk,
        speedOk: cover.speedOk,
      },
      steps: explain(rating, cover, asked, tyreLoadKg),
      assumptions: assumptionsFor(rating, asked),
      cautions: [
        'The load index holds at the pressure the maker states for it. Weight transfer in corners and under braking loads a tyre beyond its static share.',
      ],
    };
  },
});
