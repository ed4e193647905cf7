import { CAUTIONS } from '../../cautions.ts';
import { daysBetween } from '../../calendar.ts';
import { roundTo } from '../../quantity.ts';
import { calculation, notComputable, type Worked } from '../calculation.ts';
import { BRAKE_MARGINS } from './brake-heat-duty.ts';
import { layOutLap } from './brake-heat-lap.ts';
import { type RotorSettings, specificHeatAt, STEFAN_BOLTZMANN } from './brake-heat-material.ts';
import { type BrakeHeatSettings, FIRST_STEPS, solveBrakeHeat } from './brake-heat-session.ts';
import { BRAKE_HEAT_DEFAULTS, resolveBrakeHeat } from './brake-heat-settings.ts';
import {
  CALIPER,
  followRotor,
  type LapHeat,
  type MarginBand,
  marginsOf,
  padFactor,
  soakAt,
  SPREAD,
} from '../../foresight/brake-margin-model.ts';
import { BrakeMarginInput, BrakeMarginResult } from './brake-margin-input.ts';
import { boilingPointAtAge, type FluidPoints, WATER_PERCENT_PER_YEAR } from './fluid-boiling.ts';

/**
 * Margin of fluid and pads lap by lap with a band of 90 %, and what helps most.
 *
 * @see `solveBrakeHeat` for the rotor; `brakeNeeds` for the level that judging takes, which this one divides into laps
 */
export const BRAKE_MARGIN = calculation<BrakeMarginInput, BrakeMarginResult>({
  name: 'brake-margin',
  title: 'Brake margin by the lap',
  summary:
    'From car, lap, fluid and pads: how far the fluid is from boiling and the pads from fading in each lap, how sure that is, after which lap it is used up, what happens after stopping, and what helps most.',
  input: BrakeMarginInput,
  result: BrakeMarginResult,
  sources: [
    { title: 'Rotor temperatures: as brake-heat', standing: 'secondary' },
    { title: 'Two bodies that cool together, first-order lag: textbook of heat transfer', standing: 'secondary' },
    { title: 'Water in brake fluid: 1 to 3 % of its mass a year', standing: 'common-practice' },
    { title: 'Share of the heat that reaches the fluid, effect of thin pads, spreads', standing: 'common-practice' },
    { title: 'Monte Carlo with a fixed seed: JCGM 101:2008', standing: 'secondary' },
  ],
  example: {
    session: {
      brakingZones: [
        { name: 'Mill hairpin', fromKmh: 212, toKmh: 74 },
        { name: 'Quarry', fromKmh: 176, toKmh: 98 },
        { name: 'Chapel', fromKmh: 188, toKmh: 112 },
      ],
      lapLengthM: 3420,
      laps: 10,
      massKg: 1380,
      ambientC: 28,
    },
    fluid: { dryBoilingPoint: 230, wetBoilingPoint: 155, flushedOn: '2026-03-01', on: '2026-06-13' },
    pads: { thicknessMm: 6, highC: 550 },
  },
  compute,
});

/** A session of one car as far as the fluid and the pads see it. */
interface Heated {
  settings: BrakeHeatSettings;
  /** s */
  lapTimeS: number;
  axle: 'front' | 'rear';
  laps: LapHeat[];
  /** of the hotter rotor at the end */
  endC: number;
  /** the share of the rotor's rise that reaches the fluid in the long run */
  share: number;
}

/**
 * Follows the session, and at least the 20 minutes of whose peak judging takes a share: there this one agrees with it, and
 * divides it into laps.
 */
function heat(settings: BrakeHeatSettings, riseShare: number, padMm: number | undefined): Heated {
  const { laps: driven, ambientC } = settings;
  const lapTimeS = layOutLap(settings.zones, settings, settings).timeS;
  const judged = Math.max(1, Math.round((BRAKE_HEAT_DEFAULTS.sessionMinutes * 60) / lapTimeS));
  const session = solveBrakeHeat({ ...settings, laps: Math.max(driven, judged) }, FIRST_STEPS);
  const peakOf = (axle: 'front' | 'rear', laps: number) =>
    Math.max(settings.startC, ...session[axle].lapPeakC.slice(0, laps));
  const axle = peakOf('front', driven) >= peakOf('rear', driven) ? 'front' : 'rear';
  const { tC, lapPeakC } = session[axle];
  const rise = followRotor(session.timeS, tC, ambientC);
  const endOf = (laps: number) => laps * session.stepsPerLap;
  const most = Math.max(...rise.subarray(0, endOf(judged) + 1));
  const share = most > 0 ? (riseShare * (peakOf(axle, judged) - ambientC)) / most : 0;
  const factor = share * (padMm === undefined ? 1 : padFactor(padMm));
  const laps = lapPeakC.slice(0, driven).map((peakC, lap): LapHeat => {
    const part = rise.subarray(endOf(lap), endOf(lap + 1) + 1);
    return { fluidRiseK: factor * Math.max(...part), rotorRiseK: peakC - ambientC };
  });
  return { settings, lapTimeS, axle, laps, endC: tC[endOf(driven)] ?? ambientC, share: factor };
}

function ageOf({ flushedOn, on }: BrakeMarginInput['fluid']): number | undefined {
  if (flushedOn === undefined) return undefined;
  if (on === undefined) throw notComputable('/fluid/on', 'missing', 'the day of the session is needed with flushedOn');
  const age = daysBetween(flushedOn, on);
  if (age < 0) throw notComputable('/fluid/flushedOn', 'impossible', 'the fluid was changed after the session');
  return age;
}

function compute(input: BrakeMarginInput): Worked<BrakeMarginResult> {
  const { settings, assumptions } = resolveBrakeHeat(input.session);
  const fluid: FluidPoints = { dryC: input.fluid.dryBoilingPoint, wetC: input.fluid.wetBoilingPoint };
  if (fluid.dryC < fluid.wetC)
    throw notComputable('/fluid/wetBoilingPoint', 'impossible', 'the wet boiling point is not above the dry one');
  const ageDays = ageOf(input.fluid);
  const riseShare = input.session.margins?.fluidRiseShare ?? BRAKE_MARGINS.fluidRiseShare;
  const padMm = input.pads?.thicknessMm;
  const heated = heat(settings, riseShare, padMm);
  const { ambientC } = settings;
  const margins = marginsOf({ laps: heated.laps, ambientC, fluid, ageDays, padHighC: input.pads?.highC });
  const boilsC = ageDays === undefined ? fluid.wetC : boilingPointAtAge(fluid, ageDays, WATER_PERCENT_PER_YEAR.usual);
  const used = usedUp(margins);
  const keeps = Math.min(used.fluidUsedInLap ?? Infinity, used.padsUsedInLap ?? Infinity, settings.laps + 1) - 1;
  const last = heated.laps.at(-1)?.fluidRiseK ?? 0;
  const result: BrakeMarginResult = {
    axle: heated.axle,
    boilingPointC: roundTo(boilsC, 0),
    laps: lapsOf(heated, margins),
    ...used,
    keepsMinutes: roundTo((keeps * heated.lapTimeS) / 60, 0),
    soak: soakOf(heated, last, boilsC),
    helps: helpsOf(heated, { riseShare, padMm, boilsC }),
  };
  return {
    result,
    steps: stepsOf(heated, result, { boilsC, riseShare, padMm }),
    assumptions: [...assumptions, ...ASSUMED],
    cautions: NOTES,
  };
}

const lapsOf = ({ laps, settings: { ambientC } }: Heated, margins: ReturnType<typeof marginsOf>) =>
  laps.map(({ fluidRiseK, rotorRiseK }, at) => ({
    lap: at + 1,
    rotorC: roundTo(ambientC + rotorRiseK, 0),
    fluidC: roundTo(ambientC + fluidRiseK, 0),
    fluidMargin: rounded(margins.fluid[at]),
    ...(margins.pads !== undefined && { padMargin: rounded(margins.pads[at]) }),
  }));

const usedIn = (margins: readonly MarginBand[]): number | undefined => {
  const at = margins.findIndex(({ low }) => low < 0);
  return at === -1 ? undefined : at + 1;
};

function usedUp({ fluid, pads }: ReturnType<typeof marginsOf>) {
  const [fluidUsedInLap, padsUsedInLap] = [usedIn(fluid), usedIn(pads ?? [])];
  return {
    ...(fluidUsedInLap !== undefined && { fluidUsedInLap }),
    ...(padsUsedInLap !== undefined && { padsUsedInLap }),
  };
}

const rounded = (band: MarginBand | undefined) => ({
  low: roundTo(band?.low ?? 0, 0),
  middle: roundTo(band?.middle ?? 0, 0),
  high: roundTo(band?.high ?? 0, 0),
});

const SOAK_MINUTES = 30;

function soakOf({ settings, axle, endC: rotorC, share }: Heated, lastRiseK: number, boilsC: number) {
  const nodes = nodesOf(settings, settings[axle], { rotorC, share });
  const start = { rotorC, caliperC: settings.ambientC + lastRiseK };
  const minutes = Array.from({ length: SOAK_MINUTES * 2 + 1 }, (_, at) => at / 2);
  const temperatures = minutes.map((at) => soakAt(nodes, start, at * 60).caliperC);
  const hottest = Math.max(...temperatures);
  return {
    fluidC: roundTo(hottest, 0),
    afterMinutes: minutes[temperatures.indexOf(hottest)] ?? 0,
    margin: roundTo(boilsC - hottest, 0),
  };
}

/** Conductances that give the caliper the delay and the share it has while driving; parked, less air passes. */
function nodesOf(
  { ambientC, convection }: BrakeHeatSettings,
  { massKg, heatFactor, heat, areaM2, emissivity, radiatingAreaM2 }: RotorSettings,
  { rotorC, share }: { rotorC: number; share: number },
) {
  const rotorJK = massKg * heatFactor * specificHeatAt(heat, rotorC);
  const caliperJK = CALIPER.capacityOfRotor * rotorJK;
  const all = caliperJK / CALIPER.followsS;
  const [hot, cold] = [rotorC + 273.15, ambientC + 273.15];
  const radiation = emissivity * STEFAN_BOLTZMANN * radiatingAreaM2 * (hot + cold) * (hot ** 2 + cold ** 2);
  return {
    rotorJK,
    caliperJK,
    betweenWK: Math.min(share, 0.9) * all,
    caliperToAirWK: (1 - Math.min(share, 0.9)) * all * CALIPER.parkedCooling,
    rotorToAirWK: convection.still * areaM2 + radiation,
    ambientC,
  };
}

/** What the answer was asked with. */
interface Asked {
  riseShare: number;
  padMm: number | undefined;
  boilsC: number;
}

/** Fresh fluid of a high class that anybody can buy: the minimum of DOT 5.1, °C. */
const FRESH_HIGH_CLASS_C = 260;
const MORE_AIR = 1.2;
const SHORTER = 0.75;

function helpsOf({ settings, laps }: Heated, { riseShare, padMm, boilsC }: Asked) {
  const riseAt = (of: readonly LapHeat[], lap: number) => of[lap - 1]?.fluidRiseK ?? 0;
  const last = riseAt(laps, laps.length);
  const { still, factor, exponent } = settings.convection;
  const convection = { still: still * MORE_AIR, factor: factor * MORE_AIR, exponent };
  const cooled = heat({ ...settings, convection }, riseShare, padMm).laps;
  const fewer = Math.max(1, Math.floor(laps.length * SHORTER));
  const gains = [
    { what: 'fresh fluid of class DOT 5.1', gainK: FRESH_HIGH_CLASS_C - boilsC },
    ...(padMm === undefined
      ? []
      : [{ what: 'new pads', gainK: last * (1 - padFactor(CALIPER.newPadMm) / padFactor(padMm)) }]),
    { what: 'a fifth more air to the brakes', gainK: last - riseAt(cooled, laps.length) },
    { what: 'a quarter fewer laps', gainK: last - riseAt(laps, fewer) },
  ];
  return gains
    .map(({ what, gainK }) => ({ what, gainK: roundTo(Math.max(0, gainK), 0) }))
    .toSorted((a, b) => b.gainK - a.gainK);
}

const ASSUMED = [
  {
    name: 'caliper',
    value: `follows the rotor within ${CALIPER.followsS} s; bare pads let ${CALIPER.barePadFactor} times as much through as new ones`,
    standing: 'common-practice',
  },
  {
    name: 'spread',
    value: `rise ±${SPREAD.rise * 200} %, share to the fluid ±${SPREAD.fluidShare * 200} %, air ±${SPREAD.airK * 2} K, pads ±${SPREAD.padK * 2} K (k = 2)`,
    standing: 'common-practice',
  },
  { name: 'water', value: '1 to 3 % of the mass a year, most often 1.5', standing: 'common-practice' },
] as const;

const NOTES = [
  'An estimate for planning, with its own doubt shown: measure with temperature paint before you rely on it.',
  'A pedal that grows long means: off the track now, whatever this says.',
  'The fluid goes on getting hotter after you stop: drive a cool-down lap and do not hold the car with the brakes.',
  CAUTIONS['hot-parts'].text,
];

function stepsOf({ axle, share }: Heated, { laps, soak }: BrakeMarginResult, of: Asked) {
  const last = laps.at(-1);
  return [
    {
      what: 'Share of the rotor’s rise that reaches the fluid',
      formula: 's = share · peak rise / slowest rise · pads',
      numbers: `${of.riseShare} of the peak${of.padMm === undefined ? '' : `, pads of ${of.padMm} mm · ${roundTo(padFactor(of.padMm), 2)}`}`,
      result: `${roundTo(share, 3)} of what the caliper follows, ${axle} axle`,
    },
    {
      what: 'Boiling point of the fluid on that day',
      formula: 'T(w) between dry and wet point',
      numbers: 'water by age, or the wet point',
      result: `${roundTo(of.boilsC, 0)} °C`,
    },
    {
      what: 'Margin in the last lap',
      formula: 'boiling point − fluid',
      numbers: `${roundTo(of.boilsC, 0)} − ${last?.fluidC ?? 0}`,
      result: `${last?.fluidMargin.middle ?? 0} K, 90 of 100 between ${last?.fluidMargin.low ?? 0} and ${last?.fluidMargin.high ?? 0}`,
    },
    {
      what: 'Hottest fluid after stopping',
      formula: 'two bodies that cool together',
      numbers: `${soak.afterMinutes} min after`,
      result: `${soak.fluidC} °C`,
    },
  ];
}
