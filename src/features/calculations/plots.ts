import type { BrakeHeatInput } from '../../domain/trade/brakes/brake-heat-input.ts';
import type { BrakeHeatResult } from '../../domain/trade/brakes/brake-heat-result.ts';
import { BRAKE_HEAT, IRON_SOFTENS_C } from '../../domain/trade/brakes/brake-heat.ts';
import { type PadForecastResult, ROAD_TEST_FLOOR_MM } from '../../domain/trade/brakes/pad-forecast-wear.ts';
import { PAD_FORECAST } from '../../domain/trade/brakes/pad-forecast.ts';

/** A point in the units of the axes. */
interface Point {
  x: number;
  y: number;
}

/** A line; front and rear differ in dashes and symbols, never in colour. */
export interface Line {
  points: readonly Point[];
  /** lengths of strokes and gaps, px; empty: solid */
  dash: readonly number[];
  strokeWidth: number;
  /** drawn at every point */
  symbol?: 'circle' | 'square';
}

/** A text in the right margin, beside the value it belongs to. */
export interface Label {
  y: number;
  text: string;
}

/** A level that values should stay above or below, drawn across the panel with its label. */
export interface Limit extends Label {
  dash: readonly number[];
}

export interface Axis {
  /** with the unit */
  title: string;
  domain: readonly [number, number];
  /** only whole numbers are marked */
  whole?: boolean;
}

export interface Panel {
  heading: string;
  heightPx: number;
  x: Axis;
  y: Axis;
  lines: readonly Line[];
  limits: readonly Limit[];
  /** of lines */
  labels: readonly Label[];
}

/** A picture of a result, and the same in words for whoever cannot see it. */
export interface Plot {
  title: string;
  description: string;
  panels: readonly Panel[];
}

/** How front and rear are told apart. */
const AXLE_DASH = { front: [], rear: [7, 4] } as const;
const AXLE_SYMBOL = { front: 'circle', rear: 'square' } as const;

/** From 0, or from below it where there are such values, to a little above the highest. */
function domainOf(values: readonly number[]): readonly [number, number] {
  const low = Math.min(0, ...values);
  const high = Math.max(...values, low);
  return high > low ? [low, high + (high - low) * 0.06] : [low, low + 1];
}

/** From the lowest to the highest; a single value gets room on both sides. */
function spanOf(values: readonly number[]): readonly [number, number] {
  const [low, high] = [Math.min(...values), Math.max(...values)];
  return high > low ? [low, high] : [low - 0.5, high + 0.5];
}

const AXLES = ['front', 'rear'] as const;
type Axle = (typeof AXLES)[number];

const PAD_DASH = [10, 3, 2, 3];
const FLUID_DASH = [1, 3];
const IRON_DASH = [2, 2];
/** The softening of iron is drawn where the rotors come near it; elsewhere it would only squeeze the picture. */
const NEAR_SOFTENING = 0.7;

/**
 * Rotor temperatures over the hottest lap with the limits that they ask for, and the highest of every lap below it, so
 * that a reader sees whether the session has settled. °C over seconds and laps.
 */
export function plotBrakeHeat(input: BrakeHeatInput, result: BrakeHeatResult): Plot {
  const { front, rear, laps, duty } = result;
  const lap = front.peakC >= rear.peakC ? front.peakLap : rear.peakLap;
  const limits = brakeHeatLimits(input, result);
  const fluid = duty.fluidWetBoilingPointNeededC;
  const peaks = AXLES.map((axle) => `${axle} ${result[axle].peakC} °C`).join(', ');
  return {
    title: 'Brake heat: rotor temperatures',
    description:
      `Estimated rotor temperatures in °C over lap ${lap} of ${laps}, the hottest. Highest: ${peaks}. ` +
      `This asks for pads that work up to ${duty.padHighTemperatureNeededC.front} °C at the front and ` +
      `${duty.padHighTemperatureNeededC.rear} °C at the rear, and for brake fluid with a wet boiling point of ` +
      `at least ${fluid} °C. Duty class: ${duty.dutyClass}. ${settled(result)}`,
    panels: [lapPanel(result, lap, limits), peakPanel(result)],
  };
}

const settled = ({ steadyFromLap, laps }: BrakeHeatResult): string =>
  steadyFromLap === undefined
    ? `After ${laps === 1 ? 'one lap' : `${laps} laps`} the temperatures have not settled.`
    : `From lap ${steadyFromLap} on the laps hardly differ.`;

function brakeHeatLimits(input: BrakeHeatInput, { duty }: BrakeHeatResult): Limit[] {
  const pads = AXLES.map((axle): Limit => {
    const y = duty.padHighTemperatureNeededC[axle];
    return { y, text: `${axle} pads: ${y} °C or more`, dash: PAD_DASH };
  });
  const fluidC = duty.fluidWetBoilingPointNeededC;
  const fluid = { y: fluidC, text: `fluid, wet: ${fluidC} °C or more`, dash: FLUID_DASH };
  const iron = AXLES.some(
    (axle) => input[axle]?.material !== 'carbon' && duty.estimatedPeakC[axle] >= NEAR_SOFTENING * IRON_SOFTENS_C,
  );
  const softens = { y: IRON_SOFTENS_C, text: `iron softens at about ${IRON_SOFTENS_C} °C`, dash: IRON_DASH };
  return [...pads, fluid, ...(iron ? [softens] : [])];
}

function lapPanel(result: BrakeHeatResult, lap: number, limits: readonly Limit[]): Panel {
  const points = { front: lapPoints(result, lap, 'front'), rear: lapPoints(result, lap, 'rear') };
  const all = [...points.front, ...points.rear];
  return {
    heading: `Hottest lap (${lap} of ${result.laps}), estimated. Solid: front. Dashed: rear. Thin: needs of pads and fluid.`,
    heightPx: 270,
    x: { title: 'Time in the lap, s', domain: spanOf(all.map(({ x }) => x)) },
    y: {
      title: 'Temperature of the rotor, °C',
      domain: domainOf([...all.map(({ y }) => y), ...limits.map(({ y }) => y)]),
    },
    lines: AXLES.map((axle) => ({ points: points[axle], dash: AXLE_DASH[axle], strokeWidth: 2 })),
    limits,
    labels: AXLES.map((axle) => {
      const highest = Math.max(...points[axle].map(({ y }) => y));
      return { y: points[axle].at(-1)?.y ?? 0, text: `${axle} rotor, up to ${Math.round(highest)} °C` };
    }),
  };
}

/** The end of the lap before is the start of this one. */
function lapPoints({ series }: BrakeHeatResult, lap: number, axle: Axle): Point[] {
  const first = Math.max(series.lap.indexOf(lap) - 1, 0);
  const startS = series.timeS[first] ?? 0;
  const temperatures = axle === 'front' ? series.frontC : series.rearC;
  return series.timeS.flatMap((timeS, i) =>
    i === first || series.lap[i] === lap ? [{ x: timeS - startS, y: temperatures[i] ?? 0 }] : [],
  );
}

function peakPanel(result: BrakeHeatResult): Panel {
  const points = (axle: Axle) => result[axle].lapPeakC.map((y, i): Point => ({ x: i + 1, y }));
  return {
    heading: `Highest of each lap. ${settled(result)}`,
    heightPx: 120,
    x: { title: 'Lap', domain: spanOf([1, result.laps]), whole: true },
    y: { title: 'Highest, °C', domain: domainOf(AXLES.flatMap((axle) => result[axle].lapPeakC)) },
    lines: AXLES.map((axle) => ({
      points: points(axle),
      dash: AXLE_DASH[axle],
      strokeWidth: 1.5,
      symbol: AXLE_SYMBOL[axle],
    })),
    limits: [],
    labels: AXLES.map((axle) => ({ y: result[axle].lapPeakC.at(-1) ?? 0, text: `${axle} rotor` })),
  };
}

type Pad = PadForecastResult['pads'][number];

const MEASURED_WIDTH = 1;
const FORECAST_DASH = { front: [9, 4], rear: [2, 3] } as const;
const LIMIT_DASH = [10, 3, 2, 3];

const axleOf = ({ position }: Pad): 'front' | 'rear' => (position.startsWith('F') ? 'front' : 'rear');

/** Friction material over sessions: what was measured, the forecast to the end of the event, and the minimum. mm. */
export function plotPadForecast(result: PadForecastResult): Plot {
  const { pads, minimumMm } = result;
  const lines = pads.flatMap((pad): Line[] => [
    { points: measured(pad), dash: [], strokeWidth: MEASURED_WIDTH, symbol: AXLE_SYMBOL[axleOf(pad)] },
    { points: forecast(pad), dash: FORECAST_DASH[axleOf(pad)], strokeWidth: 2 },
  ]);
  const limits = limitsOf(minimumMm);
  const points = lines.flatMap((line) => line.points);
  return {
    title: 'Brake pads: friction material to come',
    description: describe(result),
    panels: [
      {
        heading: 'Measured: solid, circles front, squares rear. Forecast: long dashes front, dots rear.',
        heightPx: 300,
        x: { title: 'Sessions driven', domain: spanOf(points.map(({ x }) => x)) },
        y: { title: 'Friction material, mm', domain: domainOf([...points, ...limits].map(({ y }) => y)) },
        lines,
        limits,
        labels: pads.map(labelOf),
      },
    ],
  };
}

const measured = ({ series }: Pad): Point[] =>
  series.measured.map(({ session, thicknessMm: y }) => ({ x: session, y }));

/** The line of a pad that is used up before the end stops there: the forecast itself only knows both ends. */
function forecast(pad: Pad): Point[] {
  const [from, to] = pad.series.forecast.map(({ session, thicknessMm: y }): Point => ({ x: session, y }));
  const usedUp = usedUpAt(pad);
  if (from === undefined || to === undefined) return [];
  return [from, usedUp === undefined ? to : { x: usedUp, y: 0 }];
}

/** Sessions driven when nothing is left, where that is before the end of the event. */
function usedUpAt({ series, thicknessMm, mmPerSession, endThicknessMm }: Pad): number | undefined {
  const [from, to] = series.forecast.map(({ session }) => session);
  if (from === undefined || to === undefined || endThicknessMm > 0) return undefined;
  const usedUp = from + thicknessMm / mmPerSession;
  return usedUp < to ? usedUp : undefined;
}

function labelOf(pad: Pad): Label {
  const usedUp = usedUpAt(pad);
  const end = usedUp === undefined ? `${pad.endThicknessMm} mm at the end` : `gone by session ${Math.ceil(usedUp)}`;
  return { y: pad.endThicknessMm, text: `${pad.position}: ${end}` };
}

function limitsOf(minimumMm: number): Limit[] {
  const floor = { y: ROAD_TEST_FLOOR_MM, text: `road-test floor: ${ROAD_TEST_FLOOR_MM} mm`, dash: [1, 3] };
  const minimum = { y: minimumMm, text: `minimum at the end: ${minimumMm} mm`, dash: LIMIT_DASH };
  return [minimum, floor];
}

function describe({ pads, minimumMm, enough, firstToWearOut }: PadForecastResult): string {
  const ends = pads.map(({ position, thicknessMm, endThicknessMm, sessionsLeft }) => {
    return `${position} from ${thicknessMm} to ${endThicknessMm} mm, sessions left ${sessionsLeft}`;
  });
  return (
    `Friction material in mm over the sessions driven, measured and forecast to the end of the event. ` +
    `Minimum ${minimumMm} mm: ${enough ? 'every pad stays above it' : 'not every pad stays above it'}; ` +
    `${firstToWearOut} reaches it first. ${ends.join('. ')}.`
  );
}

/**
 * Plots of the computations that have one, by name, from body and result. Body and result are those of the computation
 * of that name, so the types hold.
 */
export const PLOTS: ReadonlyMap<string, (body: unknown, result: unknown) => Plot> = new Map([
  [BRAKE_HEAT.name, (body, result) => plotBrakeHeat(body as BrakeHeatInput, result as BrakeHeatResult)],
  [PAD_FORECAST.name, (_body, result) => plotPadForecast(result as PadForecastResult)],
]);
