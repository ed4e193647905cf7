/** A zone that can be drawn: speeds in km/h, `start` and `end` as parts of the lap's drawn length. */
export interface DrawnZone {
  place: number;
  name: string;
  from: number;
  to: number;
  start: number;
  end: number;
  /** speed at the start of the straight before it; undefined where there is but one zone */
  straightFrom: number | undefined;
}

export interface Lap {
  zones: readonly DrawnZone[];
  topSpeed: number | undefined;
}

export interface LapFault {
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
export function readLap(rows: readonly { name: string; from: string; to: string }[], topSpeed: string): Lap {
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
export function lapFaults({ zones, topSpeed }: Lap): LapFault[] {
  return zones.flatMap(({ place, from, to, straightFrom }): LapFault[] => [
    ...(from > to ? [] : [{ code: 'noBraking' as const, place, from, to }]),
    ...(straightFrom !== undefined && from <= straightFrom
      ? [{ code: 'noStraight' as const, place, from, before: straightFrom }]
      : []),
    ...(topSpeed !== undefined && from > topSpeed ? [{ code: 'overTop' as const, place, from, top: topSpeed }] : []),
  ]);
}

/** The speeds over the lap as points of a line, and the highest of them. */
export function speedTrace({ zones, topSpeed }: Lap): { points: { at: number; speed: number }[]; highest: number } {
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
