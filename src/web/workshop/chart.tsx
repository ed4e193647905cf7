import type { JSX } from 'preact';
import { currentLanguage } from '../shared/text.ts';
import { showNumber } from '../shared/units.ts';
import './chart.css';

export interface Point {
  x: number;
  y: number;
}

/** A line, or a band from `low` to `high` around it; lines differ in dashes, never in colour alone. */
export interface Series {
  name: string;
  points: readonly Point[];
  band?: readonly { x: number; low: number; high: number }[];
  /** 0 solid, 1 long dashes, 2 dots, 3 both */
  dash?: 0 | 1 | 2 | 3;
  dots?: boolean;
  /** dots only: cases that have nothing to do with one another */
  isLoose?: boolean;
}

export interface ChartSpec {
  title: string;
  /** what it shows, for whoever cannot see it */
  says: string;
  x: string;
  y: string;
  series: readonly Series[];
  /** levels across the whole chart */
  limits?: readonly { y: number; name: string }[];
  /** only whole numbers are marked along x */
  whole?: boolean;
}

const WIDTH = 480;
const HEIGHT = 280;
const LEFT = 52;
const RIGHT = 12;
const TOP = 12;
const BOTTOM = 44;

/** Round numbers over a range, at most about `most` of them. */
export function ticksOf(low: number, high: number, most = 6, whole = false): number[] {
  const span = high - low;
  if (span <= 0) return [low];
  const rough = span / most;
  const power = 10 ** Math.floor(Math.log10(rough));
  const nice = [1, 2, 5, 10].map((step) => step * power).find((step) => step >= rough) ?? rough;
  const step = whole ? Math.max(1, Math.round(nice)) : nice;
  const first = Math.ceil(low / step - 1e-9) * step;
  const count = Math.floor((high - first) / step + 1e-9) + 1;
  return Array.from({ length: count }, (_, i) => Number((first + i * step).toPrecision(12)));
}

/** Lowest and highest of all that is drawn, with a little air above and below. */
function rangeOf({ series, limits = [] }: ChartSpec) {
  const xs = series.flatMap(({ points, band = [] }) => [...points, ...band].map(({ x }) => x));
  const ys = [
    ...series.flatMap(({ points, band = [] }) => [
      ...points.map(({ y }) => y),
      ...band.flatMap(({ low, high }) => [low, high]),
    ]),
    ...limits.map(({ y }) => y),
  ];
  const [left, right] = [Math.min(...xs), Math.max(...xs)];
  const [low, high] = [Math.min(0, ...ys), Math.max(...ys)];
  const air = (high - low || 1) * 0.06;
  return { left, right: right > left ? right : left + 1, low: low < 0 ? low - air : 0, high: high + air };
}

/** A chart of our own: lines, bands and levels in the colours of the page, on paper too. Its texts are texts. */
export function Chart({ spec }: { spec: ChartSpec }): JSX.Element {
  const { left, right, low, high } = rangeOf(spec);
  const px = (x: number): number => LEFT + ((x - left) / (right - left)) * (WIDTH - LEFT - RIGHT);
  const py = (y: number): number => TOP + ((high - y) / (high - low)) * (HEIGHT - TOP - BOTTOM);
  const at = ({ x, y }: Point): string => `${px(x).toFixed(1)},${py(y).toFixed(1)}`;
  const number = (value: number): string => showNumber(value, currentLanguage());
  return (
    <figure class="chart">
      <figcaption>{spec.title}</figcaption>
      <svg viewBox={`0 0 ${WIDTH} ${HEIGHT}`} role="img" aria-label={`${spec.title}. ${spec.says}`}>
        {ticksOf(low, high).map((y) => (
          <g key={`y${y}`}>
            <line class="grid" x1={LEFT} x2={WIDTH - RIGHT} y1={py(y)} y2={py(y)} />
            <text class="tick" x={LEFT - 6} y={py(y) + 4} text-anchor="end">
              {number(y)}
            </text>
          </g>
        ))}
        {ticksOf(left, right, 7, spec.whole === true).map((x) => (
          <text class="tick" key={`x${x}`} x={px(x)} y={HEIGHT - BOTTOM + 18} text-anchor="middle">
            {number(x)}
          </text>
        ))}
        <text class="axis" x={(LEFT + WIDTH - RIGHT) / 2} y={HEIGHT - 6} text-anchor="middle">
          {spec.x}
        </text>
        <text class="axis" x={12} y={HEIGHT / 2} text-anchor="middle" transform={`rotate(-90 12 ${HEIGHT / 2})`}>
          {spec.y}
        </text>
        {spec.series.map(({ name, band = [] }) =>
          band.length === 0 ? null : <polygon class="band" key={`b${name}`} points={outline(band).map(at).join(' ')} />,
        )}
        {spec.limits?.map(({ y, name }) => (
          <line class="level" key={name} x1={LEFT} x2={WIDTH - RIGHT} y1={py(y)} y2={py(y)} />
        ))}
        {spec.series.map(({ name, points, dash = 0, dots, isLoose }) => (
          <g key={name}>
            {isLoose !== true && <polyline class={`line dash-${dash}`} points={points.map(at).join(' ')} />}
            {dots === true &&
              points.map((one) => <circle key={at(one)} class="dot" cx={px(one.x)} cy={py(one.y)} r={4} />)}
          </g>
        ))}
      </svg>
      <Key spec={spec} />
    </figure>
  );
}

const outline = (band: NonNullable<Series['band']>): Point[] => [
  ...band.map(({ x, high: y }) => ({ x, y })),
  ...band.toReversed().map(({ x, low: y }) => ({ x, y })),
];

/** What each line is; below the chart, where there is room for words. */
function Key({ spec: { series, limits = [] } }: { spec: ChartSpec }): JSX.Element {
  const sample = (name: string, of: string): JSX.Element => (
    <li key={name}>
      <svg viewBox="0 0 36 12" width="36" height="12" aria-hidden="true">
        <line class={of} x1={1} x2={35} y1={6} y2={6} />
      </svg>{' '}
      {name}
    </li>
  );
  return (
    <ul class="key">
      {series.map(({ name, dash = 0 }) => sample(name, `line dash-${dash}`))}
      {limits.map(({ name }) => sample(name, 'level'))}
    </ul>
  );
}
