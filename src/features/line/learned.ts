import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { findItem } from '../../domain/catalogue/catalogue.ts';
import { CATALOGUE_TEXTS, itemTexts } from '../../domain/catalogue/texts.ts';
import {
  calibrate,
  forecastsOf,
  insideOf,
  type KindLooks,
  type MeasuredPads,
  repeatedFaults,
  type Share,
} from '../../domain/foresight/how-good.ts';
import { kindOfCar } from '../../domain/foresight/line-looks.ts';
import { roundTo } from '../../domain/quantity.ts';
import { AcceptLanguage, LANGUAGE_DOCUMENTED, languageHeaders, languageOf } from '../../http/frame/headers.ts';
import { addRoute } from '../../http/frame/route.ts';
import { listChosen, listFound, listMeasuredPads, type PadsRow } from './looks-store.ts';

/** Of forecasts: more points than this are no clearer picture. */
const MOST_POINTS = 200;
/** With fewer forecasts a band that holds 90 of 100 cannot be told from one that holds 70. Common practice, no source. */
const ENOUGH_FORECASTS = 30;

/** Cars that are described alike are one kind. */
function byKind(rows: Awaited<ReturnType<typeof listFound>>): KindLooks[] {
  const kinds = new Map<string, KindLooks>();
  for (const { item, description, cars, events, looked, wrong } of rows) {
    const kind = kindOfCar({ description });
    const key = `${item} ${kind}`;
    const known = kinds.get(key) ?? { item, kind, cars: [], events: [], looked: 0, wrong: 0 };
    kinds.set(key, {
      item,
      kind,
      cars: [...new Set([...known.cars, ...cars])],
      events: [...new Set([...known.events, ...events])],
      looked: known.looked + looked,
      wrong: known.wrong + wrong,
    });
  }
  return [...kinds.values()];
}

/** Measurements by car, in order of the events. */
function byCar(rows: readonly PadsRow[]): MeasuredPads[][] {
  const cars = new Map<string, MeasuredPads[]>();
  for (const { vehicleId, startsOn, endsOn, sessions, checks } of rows) {
    const mm = Object.fromEntries(
      checks.flatMap(({ position, value }) =>
        typeof value === 'number' && position !== undefined ? [[position, value]] : [],
      ),
    );
    cars.set(vehicleId, [...(cars.get(vehicleId) ?? []), { startsOn, endsOn, sessions, mm }]);
  }
  return [...cars.values()];
}

const viewShare = ({ count, of, low, high }: Share) => ({ count, of, low: roundTo(low, 4), high: roundTo(high, 4) });

/** What forecasts and choices of the events that are over were worth, and which faults come again. Counts; it decides nothing. */
async function readLearned(deps: Deps, language: string): Promise<LearnedView> {
  const db = deps.db.prisma;
  const now = deps.clock.now();
  const [chosen, found, pads] = await Promise.all([listChosen(db, now), listFound(db, now), listMeasuredPads(db, now)]);
  const chances = calibrate(chosen.found);
  const forecasts = byCar(pads).flatMap(forecastsOf);
  const looked = found.reduce((sum, one) => sum + one.looked, 0);
  const wrong = found.reduce((sum, one) => sum + one.wrong, 0);
  const others = { looked: looked - chances.all.of, wrong: wrong - chances.all.count };
  return {
    looks: {
      isEnough: chances.isEnough,
      chosen: viewShare(chances.all),
      others: { count: others.wrong, of: others.looked },
      notLooked: chosen.notLooked,
      bins: chances.bins.map(({ chance, share }) => ({ chance: roundTo(chance, 4), ...viewShare(share) })),
      score: roundTo(chances.score, 4),
      plainScore: roundTo(chances.plainScore, 4),
    },
    wear: {
      isEnough: forecasts.length >= ENOUGH_FORECASTS,
      inside: viewShare(insideOf(forecasts)),
      points: forecasts.slice(-MOST_POINTS).map(({ low, middle, high, measured }) => ({
        low: roundTo(low, 1),
        middle: roundTo(middle, 1),
        high: roundTo(high, 1),
        measured,
      })),
    },
    repeated: repeatedFaults(byKind(found)).map(({ share, elsewhere, ...one }) => {
      const item = findItem(one.item);
      return {
        ...one,
        label: item === undefined ? one.item : itemTexts(item, language).label,
        share: viewShare(share),
        elsewhere: { count: elsewhere.count, of: elsewhere.of },
      };
    }),
  };
}

const Count = z.object({ count: z.int().describe('Cases in which it was so'), of: z.int().describe('All cases') });
const CountWithRange = Count.extend({
  low: z.number().describe('The true share lies in 90 of 100 cases between this'),
  high: z.number().describe('and this'),
});

const LearnedView = z
  .object({
    looks: z
      .object({
        isEnough: z.boolean().describe('`false`: too few cases to judge by'),
        chosen: CountWithRange.describe('Points that were chosen and looked at; wrong'),
        others: Count.describe('All other points that were looked at; wrong'),
        notLooked: z.int().describe('Chosen, and not looked at'),
        bins: z
          .array(CountWithRange.extend({ chance: z.number().describe('Mean of the chances that were said') }))
          .describe('By chance, about as many cases in each'),
        score: z.number().describe('Mean square of chance less what came; the lower the better'),
        plainScore: z.number().describe('The same for one chance for all'),
      })
      .describe('What the line chose to look at, against what it found'),
    wear: z
      .object({
        isEnough: z.boolean().describe('`false`: too few cases to judge by'),
        inside: CountWithRange.describe('Pads that were measured within the band of 90 %'),
        points: z
          .array(
            z.object({
              low: z.number().describe('Band, mm'),
              middle: z.number().describe('Expected, mm'),
              high: z.number().describe('Band, mm'),
              measured: z.number().describe('At the line, mm'),
            }),
          )
          .describe('The newest'),
      })
      .describe('Wear of pads as it would have been forecast from the events before, against what was measured'),
    repeated: z
      .array(
        z.object({
          item: z.string().describe('Catalogue key'),
          label: z.string().describe('Its question'),
          kind: z.string().describe('Kind of car, as cars are described'),
          cars: z.int().describe('Cars on which it was wrong, at least 3'),
          events: z.int().describe('Events at which it was, at least 2'),
          share: CountWithRange.describe('Looks at such cars; wrong'),
          elsewhere: Count.describe('Looks at all other cars; wrong'),
        }),
      )
      .describe('The same fault on the same kind of car, more often than on others; the most cars first'),
  })
  .meta({ id: 'LearnedView' });
type LearnedView = z.infer<typeof LearnedView>;

const EXAMPLE: LearnedView = {
  looks: {
    isEnough: true,
    chosen: { count: 21, of: 140, low: 0.107, high: 0.206 },
    others: { count: 44, of: 2100 },
    notLooked: 12,
    bins: [{ chance: 0.14, count: 21, of: 140, low: 0.107, high: 0.206 }],
    score: 0.1262,
    plainScore: 0.1275,
  },
  wear: {
    isEnough: false,
    inside: { count: 11, of: 12, low: 0.69, high: 0.98 },
    points: [{ low: 5.1, middle: 6.4, high: 7.2, measured: 6.2 }],
  },
  repeated: [
    {
      item: 'coolant.hoses',
      label: 'Hoses and clamps',
      kind: 'roadster 1.8',
      cars: 4,
      events: 3,
      share: { count: 4, of: 11, low: 0.17, high: 0.61 },
      elsewhere: { count: 9, of: 300 },
    },
  ],
};

/** What the organizer learns of events that are over. */
export async function learnedRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/learned',
    operationId: 'getLearned',
    summary: 'How good forecasts and choices were, and which faults come again',
    description:
      'From the newest 2000 sign-offs of events that are over: chances against what was found, forecast wear of pads against what was measured, the same fault on the same kind of car. Cars and points are counted, never people. It decides nothing.',
    tag: 'Events',
    access: ['organizer', 'chief'],
    headers: AcceptLanguage,
    success: {
      200: { description: 'As of now', schema: LearnedView, headers: LANGUAGE_DOCUMENTED, example: EXAMPLE },
    },
    problems: [],
    handle: async ({ headers }) => {
      const language = languageOf(headers, Object.keys(CATALOGUE_TEXTS));
      return { status: 200, body: await readLearned(deps, language), headers: languageHeaders(language) };
    },
  });
}
