import { IRON_SOFTENS_C } from '../../domain/trade/brakes/brake-heat.ts';
import type { BrakeHeatInput } from '../../domain/trade/brakes/brake-heat-input.ts';
import type { BrakeHeatResult } from '../../domain/trade/brakes/brake-heat-result.ts';
import { AXLE_DASH, AXLE_SYMBOL, domainOf, type Limit, type Panel, type Plot, type Point, spanOf } from './plot.ts';

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
  const limits = limitsOf(input, result);
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

function limitsOf(input: BrakeHeatInput, { duty }: BrakeHeatResult): Limit[] {
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
