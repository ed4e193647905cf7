/** A point in the units of the axes. */
export interface Point {
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
export const AXLE_DASH = { front: [], rear: [7, 4] } as const;
export const AXLE_SYMBOL = { front: 'circle', rear: 'square' } as const;

/** From 0, or from below it where there are such values, to a little above the highest. */
export function domainOf(values: readonly number[]): readonly [number, number] {
  const low = Math.min(0, ...values);
  const high = Math.max(...values, low);
  return high > low ? [low, high + (high - low) * 0.06] : [low, low + 1];
}

/** From the lowest to the highest; a single value gets room on both sides. */
export function spanOf(values: readonly number[]): readonly [number, number] {
  const [low, high] = [Math.min(...values), Math.max(...values)];
  return high > low ? [low, high] : [low - 0.5, high + 0.5];
}
