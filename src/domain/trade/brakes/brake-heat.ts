import { CAUTIONS } from '../../cautions.ts';
import {
  BRAKE_MARGINS,
  type BrakeDuty,
  type BrakeMargins,
  brakeNeeds,
  DUTY_THRESHOLDS,
  dutyClassOf,
  type DutyThresholds,
  lapDuty,
} from './brake-heat-duty.ts';
import { BrakeHeatInput, brakeHeatSensitivity } from './brake-heat-input.ts';
import { BrakeHeatResult, brakeHeatResult } from './brake-heat-result.ts';
import { type BrakeHeatSession, type BrakeHeatSettings, solveConverged } from './brake-heat-session.ts';
import { resolveBrakeHeat } from './brake-heat-settings.ts';
import { brakeHeatSteps } from './brake-heat-steps.ts';
import { type Assumption, calculation, notComputable, type Source, type Worked } from '../calculation.ts';

const SOURCES: readonly Source[] = [
  { title: 'Kinetic energy, lumped heat capacity, load transfer: textbook mechanics', standing: 'secondary' },
  { title: 'EN 1993-1-2:2005 3.4.1.2: specific heat of carbon steel, used for grey iron', standing: 'secondary' },
  {
    title: 'Butland and Maddison 1973, in the NIST Chemistry WebBook: specific heat of graphite',
    standing: 'secondary',
  },
  { title: 'Strojniški vestnik 66 (2020) 1: stationary discs give 3 to 5 W/(m²·K) to the air', standing: 'secondary' },
  {
    title: 'Emissivity tables: cast iron oxidised 0.64 to 0.78, polished 0.21; graphite 0.8 to 0.9',
    standing: 'secondary',
  },
  { title: 'About 85 % of hard braking heats the brakes: answer of a friction engineer', standing: 'secondary' },
  { title: 'Turbulent cooling of a turning disc, power 0.8 of the speed', standing: 'from-memory' },
  { title: 'Duty classes, fluid and pad margins, sizes of rotors', standing: 'common-practice' },
];

const SIMPLIFICATIONS: readonly Assumption[] = [
  {
    name: 'lap',
    value: 'constant deceleration in the zones; the rest of the lap is divided by the speed regained plus 30 km/h',
    standing: 'common-practice',
  },
  {
    name: 'rotor',
    value: 'one temperature per rotor, left and right alike; nothing flows into the hub or from axle to axle',
    standing: 'common-practice',
  },
  {
    name: 'driveline',
    value: 'turning parts and engine braking are not counted: they about cancel',
    standing: 'common-practice',
  },
];

/** Above this iron softens; trade literature names 1,200 °F. */
export const IRON_SOFTENS_C = 650;

/**
 * Energy per stop and lap, rotor temperatures over a session, duty class and what it asks of fluid and pads.
 *
 * @see `solveBrakeHeat` for the equation, `BRAKE_HEAT_DEFAULTS` for what is assumed
 */
export const BRAKE_HEAT = calculation<BrakeHeatInput, BrakeHeatResult>({
  name: 'brake-heat',
  title: 'Brake heat',
  summary:
    'From braking zones and the car: energy per stop and lap, rotor temperatures over a session, duty class, and the fluid and pads that it asks for.',
  input: BrakeHeatInput,
  result: BrakeHeatResult,
  sources: SOURCES,
  example: {
    brakingZones: [
      { name: 'Mill hairpin', fromKmh: 212, toKmh: 74 },
      { name: 'Quarry', fromKmh: 176, toKmh: 98 },
      { name: 'Chapel', fromKmh: 188, toKmh: 112 },
    ],
    lapLengthM: 3420,
    laps: 10,
    massKg: 1380,
    frontWeightShare: 0.53,
    ambientC: 28,
  },
  compute,
});

function compute(input: BrakeHeatInput): Worked<BrakeHeatResult> {
  const { settings, assumptions } = resolveBrakeHeat(input);
  const thresholds = { ...DUTY_THRESHOLDS, ...stated(input.dutyThresholds) };
  assertAscending(thresholds);
  const margins = { ...BRAKE_MARGINS, ...stated(input.margins) };
  const converged = solveConverged(settings);
  const { session, limits } = converged;
  const coarse = { brakingS: limits.brakingS * 2, betweenS: limits.betweenS * 2 };
  const duty = dutyOf(session, settings, { thresholds, margins });
  const result = brakeHeatResult({
    settings,
    converged,
    sensitivity: brakeHeatSensitivity(settings, coarse),
    assumed: new Set(assumptions.map(({ name }) => name)),
    duty,
  });
  return {
    result,
    steps: brakeHeatSteps(settings, session, { duty, margins }),
    assumptions: [...assumptions, ...ratings(input, thresholds, margins), ...SIMPLIFICATIONS],
    cautions: cautions(input, session),
  };
}

/** Without the keys whose value is `undefined`, which would hide a default. */
function stated<T extends object>(given: T | undefined): Partial<T> {
  const entries = Object.entries(given ?? {}).filter(([, value]) => value !== undefined);
  // the entries are those of T, with some left out
  return Object.fromEntries(entries) as Partial<T>;
}

function assertAscending({ medium, heavy, severe }: DutyThresholds): void {
  if (medium <= heavy && heavy <= severe) return;
  const detail = `medium (${medium}), heavy (${heavy}) and severe (${severe}) must not descend`;
  throw notComputable('/dutyThresholds', 'out-of-order', detail);
}

function dutyOf(
  session: BrakeHeatSession,
  { massKg, ambientC }: BrakeHeatSettings,
  { thresholds, margins }: { thresholds: DutyThresholds; margins: BrakeMargins },
): BrakeDuty {
  const { energyMJ, wattsPerKg } = lapDuty(session, massKg);
  const estimatedPeakC = { front: session.front.peakC, rear: session.rear.peakC };
  return {
    dutyClass: dutyClassOf(wattsPerKg, thresholds),
    energyPerLapMJ: energyMJ,
    estimatedPeakC,
    ...brakeNeeds(estimatedPeakC, ambientC, margins),
  };
}

function ratings(input: BrakeHeatInput, thresholds: DutyThresholds, margins: BrakeMargins): Assumption[] {
  const { medium, heavy, severe } = thresholds;
  const all: readonly (readonly [string, unknown, string])[] = [
    ['dutyThresholds.medium', input.dutyThresholds?.medium, `${medium} W/kg`],
    ['dutyThresholds.heavy', input.dutyThresholds?.heavy, `${heavy} W/kg`],
    ['dutyThresholds.severe', input.dutyThresholds?.severe, `${severe} W/kg`],
    ['margins.fluidRiseShare', input.margins?.fluidRiseShare, `${margins.fluidRiseShare} of the rotor's rise`],
    ['margins.fluidMarginK', input.margins?.fluidMarginK, `${margins.fluidMarginK} K`],
    ['margins.padMarginK', input.margins?.padMarginK, `${margins.padMarginK} K`],
  ];
  return all.flatMap(([name, given, value]) =>
    given === undefined ? [{ name, value, standing: 'common-practice' as const }] : [],
  );
}

function cautions(input: BrakeHeatInput, session: BrakeHeatSession): string[] {
  const hot = (['front', 'rear'] as const).some(
    (axle) => input[axle]?.material !== 'carbon' && session[axle].peakC > IRON_SOFTENS_C,
  );
  return [
    'An estimate for planning. Measure with temperature paint or labels before you rely on it: the swept face is hotter for moments than the mean of the rotor.',
    'Braking that is not listed as a zone is not counted.',
    'After the session the heat goes on into calipers and fluid: drive a cool-down lap and do not hold the car with the brakes.',
    ...(hot
      ? [`Above about ${IRON_SOFTENS_C} °C iron softens and cracks sooner: more cooling or larger rotors are due.`]
      : []),
    CAUTIONS['hot-parts'].text,
  ];
}
