import type { Standing } from '../calculation.ts';

export const PROPERTY_CLASSES = ['8.8', '10.9', '12.9'] as const;
export type PropertyClass = (typeof PROPERTY_CLASSES)[number];

export interface Thread {
  /** as understood: `M12x1.5`, `3/8-16` */
  name: string;
  series: 'metric' | 'inch';
  diameterMm: number;
  pitchMm: number;
  /** the pitch was not stated: the coarse one of the size is taken */
  coarseAssumed: boolean;
}

interface CoarseRow {
  pitchMm: number;
  /** mm² */
  stressArea: number;
  /** N, by property class */
  proofLoad: Readonly<Record<PropertyClass, number>>;
}

const row = (pitchMm: number, stressArea: number, ...loads: [number, number, number]): CoarseRow => ({
  pitchMm,
  stressArea,
  proofLoad: { '8.8': loads[0], '10.9': loads[1], '12.9': loads[2] },
});

/**
 * ISO 898-1 stress areas (mm²) and proof loads (N) of coarse metric threads, by nominal diameter in mm; read in two
 * mirrors that agree (secondary). The coarse pitches are from memory; with them the stress areas come out by formula.
 */
export const COARSE_THREADS: ReadonlyMap<number, CoarseRow> = new Map([
  [6, row(1, 20.1, 11_600, 16_700, 19_500)],
  [8, row(1.25, 36.6, 21_200, 30_400, 35_500)],
  [10, row(1.5, 58, 33_700, 48_100, 56_300)],
  [12, row(1.75, 84.3, 48_900, 70_000, 81_800)],
  [14, row(2, 115, 66_700, 95_500, 112_000)],
  [16, row(2, 157, 91_000, 130_000, 152_000)],
  [20, row(2.5, 245, 147_000, 203_000, 238_000)],
]);

const METRIC = /^M(\d{1,2}(?:\.\d)?)(?:[X×](\d(?:\.\d{1,2})?))?$/u;
const INCH = /^(\d{1,2})\/(\d{1,2})-(\d{1,2})(?:UN[CF]?)?$/u;
const MM_PER_INCH = 25.4;

/**
 * A thread as people write it: `M12`, `M12x1.5`, `M14×1.5`, `3/8-16`, `1/2-20 UNF`. A metric size without a pitch is
 * taken as coarse where the size is in the table. `undefined`: not a thread we can read. Never throws. Millimetres.
 * Source: metric threads as in `COARSE_THREADS`; an inch is 25.4 mm by definition.
 */
export function parseThread(text: string): Thread | undefined {
  const folded = text.replace(/\s+/gu, '').toUpperCase();
  return parseMetric(folded) ?? parseInch(folded);
}

function parseMetric(text: string): Thread | undefined {
  const match = METRIC.exec(text);
  if (match === null) return undefined;
  const diameterMm = Number(match[1]);
  const stated = match[2] === undefined ? undefined : Number(match[2]);
  const pitchMm = stated ?? COARSE_THREADS.get(diameterMm)?.pitchMm;
  if (pitchMm === undefined || !isThread(diameterMm, pitchMm)) return undefined;
  const name = `M${diameterMm}x${pitchMm}`;
  return { name, series: 'metric', diameterMm, pitchMm, coarseAssumed: stated === undefined };
}

function parseInch(text: string): Thread | undefined {
  const match = INCH.exec(text);
  if (match === null) return undefined;
  const diameterMm = (MM_PER_INCH * Number(match[1])) / Number(match[2]);
  const pitchMm = MM_PER_INCH / Number(match[3]);
  if (!isThread(diameterMm, pitchMm)) return undefined;
  return { name: `${match[1]}/${match[2]}-${match[3]}`, series: 'inch', diameterMm, pitchMm, coarseAssumed: false };
}

/** A thread turns several times within its own diameter, and a wheel fastener is between 3 and 50 mm thick. */
const isThread = (diameterMm: number, pitchMm: number): boolean =>
  diameterMm >= 3 && diameterMm <= 50 && pitchMm > 0 && pitchMm <= diameterMm / 3;

/**
 * Tensile stress area of a metric thread, mm²: π/4·(d − 0.9382·P)².
 *
 * Source: ISO 898-1 and ISO 724, from memory; reproduces the seven areas of `COARSE_THREADS`. Total, never throws.
 */
export const metricStressAreaMm2 = (diameterMm: number, pitchMm: number): number =>
  (Math.PI / 4) * (diameterMm - 0.9382 * pitchMm) ** 2;

/**
 * Proof stress of a property class, MPa.
 *
 * Source: taken back from the proof loads and areas of ISO 898-1 (derived, within 0.2 %). Total, never throws.
 */
export function proofStressMpa(propertyClass: PropertyClass, diameterMm: number): number {
  if (propertyClass === '8.8') return diameterMm > 16 ? 600 : 580;
  return propertyClass === '10.9' ? 830 : 970;
}

export interface ProofLoad {
  valueN: number;
  /** stress area it rests on, mm²; absent where the load itself was stated */
  areaMm2?: number;
  standing: Standing;
}

/**
 * The proof load of a metric thread, N: from the table for coarse threads, by area and proof stress for others.
 * `undefined` for inch threads, for which no table was read. Total, never throws.
 *
 * @see ISO 898-1 (secondary) for coarse threads; the area formula of other threads is from memory
 */
export function proofLoadOf(thread: Thread, propertyClass: PropertyClass): ProofLoad | undefined {
  if (thread.series === 'inch') return undefined;
  const coarse = COARSE_THREADS.get(thread.diameterMm);
  if (coarse !== undefined && coarse.pitchMm === thread.pitchMm)
    return { valueN: coarse.proofLoad[propertyClass], areaMm2: coarse.stressArea, standing: 'secondary' };
  const areaMm2 = metricStressAreaMm2(thread.diameterMm, thread.pitchMm);
  const valueN = areaMm2 * proofStressMpa(propertyClass, thread.diameterMm);
  return { valueN, areaMm2, standing: 'from-memory' };
}
