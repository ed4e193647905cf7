import type { BrakeHeatInput } from '../../domain/trade/brake-heat-input.ts';
import type { BrakeHeatResult } from '../../domain/trade/brake-heat-result.ts';
import { BRAKE_HEAT } from '../../domain/trade/brake-heat.ts';
import type { PadForecastResult } from '../../domain/trade/pad-forecast-schema.ts';
import { PAD_FORECAST } from '../../domain/trade/pad-forecast.ts';
import type { Plot } from './plot.ts';
import { plotBrakeHeat } from './plot-brake-heat.ts';
import { plotPadForecast } from './plot-pad-forecast.ts';

/**
 * Plots of the computations that have one, by name, from body and result. Body and result are those of the computation
 * of that name, so the types hold.
 */
export const PLOTS: ReadonlyMap<string, (body: unknown, result: unknown) => Plot> = new Map([
  [BRAKE_HEAT.name, (body, result) => plotBrakeHeat(body as BrakeHeatInput, result as BrakeHeatResult)],
  [PAD_FORECAST.name, (_body, result) => plotPadForecast(result as PadForecastResult)],
]);
