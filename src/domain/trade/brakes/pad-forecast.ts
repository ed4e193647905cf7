import { CAUTIONS } from '../../cautions.ts';
import { roundTo } from '../../quantity.ts';
import {
  type Assumption,
  calculation,
  notComputable,
  NotComputable,
  type Worked,
  type WorkStep,
} from '../calculation.ts';
import {
  currentSet,
  DEFAULT_END_MINIMUM_MM,
  DEFAULT_WEAR_MM_PER_MJ,
  PadForecastInput,
  PadForecastResult,
  type PadOutlook,
  padOutlook,
  type PadPosition,
  type PadReading,
  padWearFromEnergy,
  padWearFromHistory,
  type PadWearMethod,
  READING_RESOLUTION_MM,
  ROAD_TEST_FLOOR_MM,
} from './pad-forecast-wear.ts';

/** A forecast for one pad; `wear` says how fast and by which way of looking. */
export interface PadForecast extends PadOutlook {
  thicknessMm: number;
  mmPerSession: number;
  method: PadWearMethod;
}

/**
 * Forecast of one pad from its readings: mm, sessions counted on without a gap. For derived facts. Never throws.
 *
 * @returns `undefined` where wear cannot be told: fewer than two readings of the set, negative wear, sessions that do
 *   not count up
 * @see `padWearFromHistory`
 */
export function forecastPad(
  readings: readonly PadReading[],
  plan: { sessionsToCome: number; minimumMm?: number },
): PadForecast | undefined {
  try {
    return fromHistory(readings, { minimumMm: DEFAULT_END_MINIMUM_MM, ...plan });
  } catch (error) {
    // readings that contradict each other tell nothing, and a rule that asks for nothing known is unanswerable
    if (error instanceof NotComputable) return undefined;
    throw error;
  }
}

interface Plan {
  sessionsToCome: number;
  minimumMm: number;
}

function fromHistory(readings: readonly PadReading[], plan: Plan, at = ''): PadForecast {
  const { mmPerSession, method } = padWearFromHistory(readings, at);
  const thicknessMm = readings.at(-1)?.thicknessMm ?? Number.NaN;
  return { thicknessMm, mmPerSession, method, ...padOutlook(thicknessMm, mmPerSession, plan) };
}

interface Worn extends PadForecast {
  position: PadPosition;
  set: readonly PadReading[];
}

/**
 * Friction material at the end of an event and sessions left, per pad, from readings of the same pads or from energy.
 *
 * @see `padWearFromHistory`, `padWearFromEnergy`
 */
export const PAD_FORECAST = calculation<PadForecastInput, PadForecastResult>({
  name: 'pad-forecast',
  title: 'Brake pad forecast',
  summary: 'From earlier readings or braking energy: friction material at the end of the event and sessions left.',
  input: PadForecastInput,
  result: PadForecastResult,
  sources: [
    { title: 'Wear per session, minimum at the end, wear per energy', standing: 'common-practice' },
    { title: 'Least squares: textbook formula', standing: 'secondary' },
    { title: 'DVSA inspection manual for cars 3.5: less than 1.5 mm fails the road test', standing: 'secondary' },
  ],
  example: {
    pads: [
      {
        position: 'FL.in',
        history: [
          { thicknessMm: 10.8, sessions: 0 },
          { thicknessMm: 9.1, sessions: 5 },
          { thicknessMm: 7.2, sessions: 10 },
        ],
      },
    ],
    sessionsToCome: 6,
  },
  compute,
});

function compute(input: PadForecastInput): Worked<PadForecastResult> {
  assertDistinct(input);
  const plan = { sessionsToCome: input.sessionsToCome, minimumMm: input.minimumMm ?? DEFAULT_END_MINIMUM_MM };
  const pads = input.pads.map((_, i) => forecastOf(input, i, plan));
  const left = pads.map((pad) => (pad.thicknessMm - plan.minimumMm) / pad.mmPerSession);
  const first = pads[left.indexOf(Math.min(...left))];
  if (first === undefined) throw notComputable('/pads', 'missing', 'at least one pad is needed');
  const result = {
    minimumMm: plan.minimumMm,
    enough: pads.every((pad) => pad.endThicknessMm >= plan.minimumMm),
    firstToWearOut: first.position,
    pads: pads.map((pad) => view(pad, plan)),
  };
  return { result, steps: pads.flatMap((pad) => steps(pad, plan)), ...notes(input, plan, pads) };
}

function assertDistinct({ pads }: PadForecastInput): void {
  const again = pads.findIndex(({ position }, i) => pads.findIndex((pad) => pad.position === position) < i);
  if (again === -1) return;
  throw notComputable(`/pads/${again}/position`, 'duplicate', `${pads[again]?.position} is given twice`);
}

function forecastOf(input: PadForecastInput, index: number, plan: Plan): Worn {
  const pad = input.pads[index];
  if (pad === undefined) throw notComputable(`/pads/${index}`, 'missing', 'no such pad');
  const at = `/pads/${index}/history`;
  const history = input.counting === 'cumulative' ? pad.history : countedOn(pad.history, at);
  const set = currentSet(history, at);
  const energy = input.energyPerSessionMJ?.[pad.position.startsWith('F') ? 'front' : 'rear'];
  if (set.length >= 2 || energy === undefined) {
    return { position: pad.position, set, ...fromHistory(history, plan, at) };
  }
  const mmPerSession = padWearFromEnergy(energy, input.wearMmPerMJ);
  const thicknessMm = set.at(-1)?.thicknessMm ?? Number.NaN;
  return {
    position: pad.position,
    set,
    thicknessMm,
    mmPerSession,
    method: 'energy',
    ...padOutlook(thicknessMm, mmPerSession, plan),
  };
}

/** The first reading starts the count, whatever was driven before it. */
function countedOn(history: readonly PadReading[], at: string): PadReading[] {
  let sessions = 0;
  return history.map((reading, i) => {
    if (i > 0 && !(reading.sessions > 0)) {
      throw notComputable(
        `${at}/${i}/sessions`,
        'out-of-order',
        'no sessions since the reading before: leave one of them out',
      );
    }
    sessions += i === 0 ? 0 : reading.sessions;
    return { ...reading, sessions };
  });
}

function view(pad: Worn, plan: Plan): PadForecastResult['pads'][number] {
  const last = pad.set.at(-1)?.sessions ?? 0;
  const end = roundTo(pad.endThicknessMm, 2);
  return {
    position: pad.position,
    thicknessMm: pad.thicknessMm,
    mmPerSession: roundTo(pad.mmPerSession, 3),
    method: pad.method,
    endThicknessMm: end,
    sessionsLeft: pad.sessionsLeft,
    enough: pad.endThicknessMm >= plan.minimumMm,
    belowRoadTest: pad.endThicknessMm < ROAD_TEST_FLOOR_MM,
    series: {
      measured: pad.set.map(({ sessions, thicknessMm }) => ({ session: sessions, thicknessMm })),
      forecast: [
        { session: last, thicknessMm: pad.thicknessMm },
        { session: last + plan.sessionsToCome, thicknessMm: end },
      ],
    },
  };
}

const n = (value: number): string => `${Number(value.toPrecision(4))}`;

const FORMULAS: Readonly<Record<PadWearMethod, string>> = {
  'least-squares': 'slope of the best line through the readings',
  'worst-recent': 'most wear between two neighbouring readings, of the last three intervals',
  resolution: `${READING_RESOLUTION_MM} mm over all readings: less cannot be read`,
  energy: 'energy per session · wear per energy',
};

function steps(pad: Worn, plan: Plan): WorkStep[] {
  const readings = pad.set.map(({ sessions, thicknessMm }) => `${thicknessMm} mm at ${sessions}`).join(', ');
  return [
    {
      what: `${pad.position}: wear per session`,
      formula: FORMULAS[pad.method],
      numbers: readings,
      result: `${n(pad.mmPerSession)} mm per session`,
    },
    {
      what: `${pad.position}: at the end of the event`,
      formula: 'now − wear·sessions to come, not below 0',
      numbers: `${n(pad.thicknessMm)} mm − ${n(pad.mmPerSession)} mm·${plan.sessionsToCome}`,
      result: `${n(pad.endThicknessMm)} mm`,
    },
    {
      what: `${pad.position}: whole sessions left`,
      formula: '(now − minimum)/wear, rounded down',
      numbers: `(${n(pad.thicknessMm)} − ${n(plan.minimumMm)}) mm/${n(pad.mmPerSession)} mm`,
      result: `${pad.sessionsLeft}`,
    },
  ];
}

function notes(
  input: PadForecastInput,
  plan: Plan,
  pads: readonly Worn[],
): Pick<Worked<PadForecastResult>, 'assumptions' | 'cautions'> {
  const common = (name: string, value: string): Assumption => ({ name, value, standing: 'common-practice' });
  const byEnergy = pads.some((pad) => pad.method === 'energy');
  return {
    assumptions: [
      ...(input.minimumMm === undefined ? [common('minimumMm', `${plan.minimumMm} mm`)] : []),
      ...(byEnergy && input.wearMmPerMJ === undefined
        ? [common('wearMmPerMJ', `${DEFAULT_WEAR_MM_PER_MJ} mm/MJ at one wheel`)]
        : []),
      common('wear', 'as fast as the fastest of the ways the readings allow: thin pads run hotter and wear faster'),
      common('sessions', 'the sessions to come are as hard as those measured'),
    ],
    cautions: [
      'A pad can wear at an angle: measure its thinnest point, inner and outer.',
      CAUTIONS['brake-dust'].text,
      CAUTIONS['hot-parts'].text,
    ],
  };
}
