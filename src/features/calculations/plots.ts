import type { BrakeHeatInput } from '../../domain/trade/brakes/brake-heat-input.ts';
import type { BrakeHeatResult } from '../../domain/trade/brakes/brake-heat-result.ts';
import { BRAKE_HEAT } from '../../domain/trade/brakes/brake-heat.ts';
import { type PadForecastResult, ROAD_TEST_FLOOR_MM } from '../../domain/trade/brakes/pad-forecast-wear.ts';
import { PAD_FORECAST } from '../../domain/trade/brakes/pad-forecast.ts';
import { plotBrakeHeat } from './plot-brake-heat.ts';
import { AXLE_SYMBOL, domainOf, type Label, type Limit, type Line, type Plot, type Point, spanOf } from './plot.ts';

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
