import { lapFaults, readLap, speedTrace } from './lap.ts';
import { startText } from './text.ts';
import type { ZoneRow } from './zone-rows.tsx';

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
