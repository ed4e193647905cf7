import { Input } from '../parts/form.tsx';
import { startText } from './text.ts';

/** A braking zone as it is typed, speeds in km/h. */
export interface ZoneRow {
  name: string;
  from: string;
  to: string;
}

interface ZoneRowsProps {
  zones: readonly ZoneRow[];
  onZones(zones: readonly ZoneRow[]): void;
}

/** The braking zones in the order of a lap; between two of them lies a straight. */
export function ZoneRows({ zones, onZones }: ZoneRowsProps) {
  const change = (place: number, part: Partial<ZoneRow>): void =>
    onZones(zones.map((zone, at) => (at === place ? { ...zone, ...part } : zone)));
  return (
    <fieldset class="stack">
      <legend>{t('zones.title')}</legend>
      <p class="soft">{t('zones.how')}</p>
      {zones.map((zone, place) => (
        // A row has no name of its own: it is its place in the lap.
        <div key={place} class="zone" role="group" aria-label={t('zones.nth', { number: place + 1 })}>
          <Input
            label={t('zones.name', { number: place + 1 })}
            pointer={`/brakingZones/${place}/name`}
            value={zone.name}
            onValue={(name) => change(place, { name })}
          />
          <Input
            label={t('zones.from')}
            pointer={`/brakingZones/${place}/fromKmh`}
            inputMode="decimal"
            value={zone.from}
            onValue={(from) => change(place, { from })}
          />
          <Input
            label={t('zones.to')}
            pointer={`/brakingZones/${place}/toKmh`}
            inputMode="decimal"
            value={zone.to}
            onValue={(to) => change(place, { to })}
          />
          <button
            type="button"
            aria-label={t('zones.remove', { number: place + 1 })}
            onClick={() => onZones(zones.filter((_, at) => at !== place))}
          >
            <span aria-hidden="true">✕</span>
          </button>
        </div>
      ))}
      <div class="row">
        <button type="button" onClick={() => onZones([...zones, { name: '', from: '', to: '' }])}>
          {t('zones.add')}
        </button>
      </div>
    </fieldset>
  );
}

const { t } = startText;
const WIDTH = 640;
const HEIGHT = 180;
const LEFT = 44;
const FOOT = 24;

interface LapSketchProps {
  zones: readonly ZoneRow[];
  topSpeed: string;
}

/** One lap as speed over its order, to see at a glance whether the zones can be: what is odd is said below. */
export function LapSketch({ zones, topSpeed }: LapSketchProps) {
  const lap = readLap(zones, topSpeed);
  if (lap.zones.length === 0) return null;
  const { points, highest } = speedTrace(lap);
  const x = (part: number): number => LEFT + part * (WIDTH - LEFT - 8);
  const y = (speed: number): number => HEIGHT - FOOT - (speed / highest) * (HEIGHT - FOOT - 12);
  const line = points.map(({ at, speed }) => `${x(at).toFixed(1)},${y(speed).toFixed(1)}`).join(' ');
  const steps = [0.25, 0.5, 0.75, 1].map((part) => Math.round(highest * part));
  return (
    <figure class="stack lap">
      <svg viewBox={`0 0 ${WIDTH} ${HEIGHT}`} role="img" aria-label={t('lap.name')}>
        {steps.map((speed) => (
          <g key={speed}>
            <line class="grid" x1={LEFT} x2={WIDTH} y1={y(speed)} y2={y(speed)} />
            <text x={LEFT - 6} y={y(speed) + 4} text-anchor="end">
              {speed}
            </text>
          </g>
        ))}
        {lap.zones.map((zone) => (
          <rect
            key={zone.place}
            class="braking"
            x={x(zone.start)}
            width={x(zone.end) - x(zone.start)}
            y={y(highest)}
            height={HEIGHT - FOOT - y(highest)}
          />
        ))}
        <polyline class="speed" points={line} />
        {lap.zones.map((zone) => (
          <text key={zone.place} x={x((zone.start + zone.end) / 2)} y={HEIGHT - 6} text-anchor="middle">
            {zone.place + 1}
          </text>
        ))}
      </svg>
      <figcaption class="stack">
        <ol>
          {lap.zones.map(({ place, name, from, to, straightFrom }) => (
            <li key={place} value={place + 1}>
              {t('lap.zone', { name: name === '' ? t('zones.nth', { number: place + 1 }) : name, from, to })}{' '}
              {straightFrom !== undefined && (
                <span class="soft">{t('lap.straight', { from: straightFrom, to: from })}</span>
              )}
            </li>
          ))}
        </ol>
        {lapFaults(lap).map(({ code, place, ...values }) => (
          <p key={`${code} ${place}`} class="notice look" data-odd={code}>
            {t(`lap.${code}`, { number: place + 1, ...values })}
          </p>
        ))}
      </figcaption>
    </figure>
  );
}

/** A zone that can be drawn: speeds in km/h, `start` and `end` as parts of the lap's drawn length. */
interface DrawnZone {
  place: number;
  name: string;
  from: number;
  to: number;
  start: number;
  end: number;
  /** speed at the start of the straight before it; undefined where there is but one zone */
  straightFrom: number | undefined;
}

interface Lap {
  zones: readonly DrawnZone[];
  topSpeed: number | undefined;
}

interface LapFault {
  code: 'noBraking' | 'noStraight' | 'overTop';
  place: number;
  [value: string]: string | number;
}

const read = (typed: string): number | undefined => {
  const value = Number(typed.trim().replace(',', '.'));
  return typed.trim() === '' || Number.isNaN(value) ? undefined : value;
};

/** Of a drawn lap, what a straight takes for each part that braking takes. Only the order and the speeds are to scale. */
const STRAIGHT = 2.2;

/**
 * The zones that have both speeds, spread over a lap. Lengths of straights are not known, so each straight and each zone is
 * drawn equally long.
 */
function readLap(rows: readonly { name: string; from: string; to: string }[], topSpeed: string): Lap {
  const known = rows.flatMap(({ name, from, to }, place) => {
    const [fast, slow] = [read(from), read(to)];
    return fast === undefined || slow === undefined ? [] : [{ place, name: name.trim(), from: fast, to: slow }];
  });
  const width = 1 / (known.length * (1 + STRAIGHT));
  return {
    topSpeed: read(topSpeed),
    zones: known.map((zone, at) => {
      const before = known.at(at - 1);
      const start = width * (at * (1 + STRAIGHT) + STRAIGHT);
      return { ...zone, start, end: start + width, straightFrom: known.length < 2 ? undefined : before?.to };
    }),
  };
}

/** What cannot be as it is typed: a zone without braking, a straight that would have to slow down, a speed over the top. */
function lapFaults({ zones, topSpeed }: Lap): LapFault[] {
  return zones.flatMap(({ place, from, to, straightFrom }): LapFault[] => [
    ...(from > to ? [] : [{ code: 'noBraking' as const, place, from, to }]),
    ...(straightFrom !== undefined && from <= straightFrom
      ? [{ code: 'noStraight' as const, place, from, before: straightFrom }]
      : []),
    ...(topSpeed !== undefined && from > topSpeed ? [{ code: 'overTop' as const, place, from, top: topSpeed }] : []),
  ]);
}

/** The speeds over the lap as points of a line, and the highest of them. */
function speedTrace({ zones, topSpeed }: Lap): { points: { at: number; speed: number }[]; highest: number } {
  const last = zones.at(-1);
  const points = [
    { at: 0, speed: last?.to ?? 0 },
    ...zones.flatMap(({ start, end, from, to }) => [
      { at: start, speed: from },
      { at: end, speed: to },
    ]),
  ];
  return { points, highest: Math.max(1, topSpeed ?? 0, ...points.map(({ speed }) => speed)) };
}
