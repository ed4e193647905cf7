import { convert, roundTo } from '../../domain/quantity.ts';
import type { BrakeHeatResult } from '../../domain/trade/brakes/brake-heat-result.ts';
import type { BrakeMarginResult } from '../../domain/trade/brakes/brake-margin-input.ts';
import type { PadForecastResult } from '../../domain/trade/brakes/pad-forecast-wear.ts';
import { asUnit } from '../shared/units.ts';
import type { ChartSpec } from './chart.tsx';
import { optionText } from './forms.ts';
import { text } from './text.ts';

const { t } = text;

type Band = BrakeMarginResult['laps'][number]['fluidMargin'];

/** The charts of a result, none for a computation that numbers say better. */
export function plotsOf(name: string, body: unknown, result: unknown): ChartSpec[] {
  // the server answers to a computation with the result of that computation
  if (name === 'brake-heat') return brakeHeat(result as BrakeHeatResult);
  if (name === 'brake-margin') return brakeMargin(result as BrakeMarginResult);
  if (name === 'pad-forecast') return padForecast(result as PadForecastResult);
  if (name === 'last-safe-session') return lastSafe(body as LastSafeBody, result as LastSafeResult);
  return [];
}

function brakeHeat({ front, rear, duty, laps, series }: BrakeHeatResult): ChartSpec[] {
  const lap = front.peakC >= rear.peakC ? front.peakLap : rear.peakLap;
  const first = Math.max(series.lap.indexOf(lap) - 1, 0);
  const start = series.timeS[first] ?? 0;
  const inLap = (values: readonly number[]) =>
    series.timeS.flatMap((s, i) => (i === first || series.lap[i] === lap ? [{ x: s - start, y: values[i] ?? 0 }] : []));
  const peaks = (values: readonly number[]) => values.map((y, i) => ({ x: i + 1, y }));
  const says = t('plot.heat.says', { front: Math.round(front.peakC), rear: Math.round(rear.peakC) });
  const names = { front: optionText('front'), rear: optionText('rear') };
  const needs = (['front', 'rear'] as const).map((axle) => ({
    y: duty.padHighTemperatureNeededC[axle],
    name: t('plot.heat.pads', { axle: names[axle], value: Math.round(duty.padHighTemperatureNeededC[axle]) }),
  }));
  const byLap: ChartSpec = {
    title: t('plot.heat.laps'),
    says,
    x: t('plot.lap'),
    y: '°C',
    whole: true,
    series: [
      { name: names.front, points: peaks(front.lapPeakC), dash: 0, dots: true },
      { name: names.rear, points: peaks(rear.lapPeakC), dash: 1, dots: true },
    ],
    limits: needs,
  };
  const hottest: ChartSpec = {
    title: t('plot.heat.hottest', { lap }),
    says,
    x: t('plot.seconds'),
    y: '°C',
    series: [
      { name: names.front, points: inLap(series.frontC), dash: 0 },
      { name: names.rear, points: inLap(series.rearC), dash: 1 },
    ],
  };
  return laps > 1 ? [byLap, hottest] : [hottest];
}

function brakeMargin({ laps }: BrakeMarginResult): ChartSpec[] {
  const chart = (title: string, of: (lap: (typeof laps)[number]) => Band | undefined): ChartSpec[] => {
    const bands = laps.flatMap((lap) => {
      const band = of(lap);
      return band === undefined ? [] : [{ x: lap.lap, ...band }];
    });
    const last = bands.at(-1);
    if (last === undefined) return [];
    const [low, high] = [roundTo(last.low, 0), roundTo(last.high, 0)];
    return [
      {
        title,
        says: t('plot.margin.says', { lap: last.x, low, high }),
        x: t('plot.lap'),
        y: 'K',
        whole: true,
        series: [
          {
            name: t('plot.margin.middle'),
            points: bands.map(({ x, middle }) => ({ x, y: middle })),
            band: bands,
            dots: true,
          },
        ],
        limits: [{ y: 0, name: t('plot.margin.used') }],
      },
    ];
  };
  return [
    ...chart(t('plot.margin.fluid'), ({ fluidMargin }) => fluidMargin),
    ...chart(t('plot.margin.pads'), ({ padMargin }) => padMargin),
  ];
}

const DASHES = [0, 1, 2, 3] as const;
const dashOf = (index: number) => DASHES[index % DASHES.length] ?? 0;

function padForecast({ pads, minimumMm }: PadForecastResult): ChartSpec[] {
  return [
    {
      title: t('plot.pads'),
      says: pads
        .map(({ position, endThicknessMm }) =>
          t('plot.pads.says', { where: optionText(position), mm: roundTo(endThicknessMm, 1) }),
        )
        .join(' '),
      x: t('plot.sessions'),
      y: 'mm',
      series: pads.map(({ position, series }, index) => ({
        name: optionText(position),
        points: [...series.measured, ...series.forecast.slice(1)].map((one) => ({
          x: one.session,
          y: Math.max(0, one.thicknessMm),
        })),
        dash: dashOf(index),
        dots: true,
      })),
      limits: [{ y: minimumMm, name: t('plot.pads.least', { mm: minimumMm }) }],
    },
  ];
}

interface Typed {
  value: number;
  unit: string;
}
interface LastSafeBody {
  sessionsToCome: number;
  parts: { name: string; limitMm: number | Typed; readings: { sessions: number; thicknessMm: number | Typed }[] }[];
}
interface LastSafeResult {
  parts: { name: string; atEnd: Band }[];
}

/** Millimetres of what was typed in any length. */
function inMm(typed: number | Typed): number {
  if (typeof typed === 'number') return typed;
  const unit = asUnit(typed.unit);
  return unit === undefined ? Number.NaN : (convert(typed.value, unit, 'mm') ?? Number.NaN);
}

function lastSafe({ parts, sessionsToCome }: LastSafeBody, result: LastSafeResult): ChartSpec[] {
  return parts.flatMap(({ name, limitMm, readings }, index) => {
    const atEnd = result.parts[index]?.atEnd;
    const points = readings.map(({ sessions: x, thicknessMm }) => ({ x, y: inMm(thicknessMm) }));
    const last = points.at(-1);
    if (atEnd === undefined || last === undefined) return [];
    // less than nothing is never left
    const left = { low: Math.max(0, atEnd.low), middle: Math.max(0, atEnd.middle), high: Math.max(0, atEnd.high) };
    const limit = roundTo(inMm(limitMm), 1);
    const end = last.x + sessionsToCome;
    return [
      {
        title: t('plot.part', { name: optionText(name) }),
        says: t('plot.part.says', { low: roundTo(left.low, 1), high: roundTo(left.high, 1) }),
        x: t('plot.sessions'),
        y: 'mm',
        series: [
          {
            name: t('plot.part.line'),
            points: [...points, { x: end, y: left.middle }],
            band: [
              { x: last.x, low: last.y, high: last.y },
              { x: end, low: left.low, high: left.high },
            ],
            dots: true,
          },
        ],
        limits: [{ y: limit, name: t('plot.pads.least', { mm: limit }) }],
      },
    ];
  });
}
