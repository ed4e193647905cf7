import type { JSX } from 'preact';
import { currentLanguage } from '../shared/text.ts';
import { showNumber } from '../shared/units.ts';
import { text } from './text.ts';

const { t } = text;

interface At {
  x: number;
  z: number;
}

/** Radius of the crown where none was given, as the computation takes it, mm. */
const RADIUS_MM = 140;
const ROOM_MM = 260;

/** mm of a place that was typed in mm; others are left to the numbers. */
function pointOf(body: unknown, key: string): At | undefined {
  const { x, z } = ((body as Record<string, unknown>)[key] ?? {}) as Record<string, unknown>;
  return typeof x === 'number' && typeof z === 'number' ? { x, z } : undefined;
}

/** The line from hoop to front structure with the helmet below it, from the side. To scale; front is to the right. */
export function RollPicture({ body, result }: { body: unknown; result: Record<string, unknown> }): JSX.Element | null {
  const [hoop, front, helmet] = ['hoopTop', 'front', 'helmetTop'].map((key) => pointOf(body, key));
  if (hoop === undefined || front === undefined || helmet === undefined) return null;
  const given = (body as { helmetRadius?: unknown }).helmetRadius;
  const radius = typeof given === 'number' ? given : RADIUS_MM;
  const [left, right] = [Math.min(hoop.x, helmet.x - radius) - ROOM_MM, Math.max(front.x, helmet.x + radius) + ROOM_MM];
  const top = Math.max(hoop.z, front.z, helmet.z) + ROOM_MM / 2;
  const bottom = helmet.z - 2 * radius - ROOM_MM;
  const y = (z: number): number => top - z;
  const mm = `${showNumber(Number(result['clearanceMm']), currentLanguage())} mm`;
  const title = t('plot.roll', { mm });
  return (
    <figure class="chart">
      <figcaption>{title}</figcaption>
      <svg viewBox={`${left} 0 ${right - left} ${top - bottom}`} role="img" aria-label={title} class="to-scale">
        <line class="post" x1={hoop.x} x2={hoop.x} y1={y(hoop.z)} y2={top - bottom} />
        <line class="post" x1={front.x} x2={front.x} y1={y(front.z)} y2={top - bottom} />
        <line class="across" x1={hoop.x} x2={front.x} y1={y(hoop.z)} y2={y(front.z)} />
        <circle class="helmet" cx={helmet.x} cy={y(helmet.z - radius)} r={radius} />
        <text class="mark" x={hoop.x} y={y(hoop.z) - 24} text-anchor="middle">
          {t('plot.roll.hoop')}
        </text>
        <text class="mark" x={front.x} y={y(front.z) - 24} text-anchor="middle">
          {t('plot.roll.front')}
        </text>
        <text class="mark" x={helmet.x} y={y(helmet.z - radius) + 14} text-anchor="middle">
          {t('plot.roll.helmet')}
        </text>
      </svg>
    </figure>
  );
}
