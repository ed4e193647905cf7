import { z } from 'zod';
import { CAUTIONS, type CautionId } from '../../cautions.ts';
import { CATALOGUE, findItem } from '../../catalogue/catalogue.ts';
import { calculation, notComputable, NotComputable, type WorkStep } from '../calculation.ts';
import { SYMPTOMS, type Symptom } from './symptom-triage-table.ts';

export const URGENCIES = ['stop', 'look', 'note'] as const;
export type Urgency = (typeof URGENCIES)[number];

/** A catalogue item to look at, with every reason that the symptoms give. */
export interface TriagePoint {
  /** catalogue key */
  item: string;
  /** positions to begin with; empty: all that apply to the car */
  positions: readonly string[];
  /** of the most urgent symptom that names it */
  urgency: Urgency;
  reasons: readonly { symptom: string; why: string }[];
}

interface Collected {
  item: string;
  positions: Set<string>;
  everywhere: boolean;
  urgency: number;
  /** best place in a list, and the symptoms that name it, both among the symptoms of that urgency alone */
  rank: number;
  urgent: Set<string>;
  reasons: { symptom: string; why: string }[];
}

const ORDER: ReadonlyMap<string, number> = new Map(CATALOGUE.map((item, index) => [item.key, index]));

/**
 * The points to look at first for what the driver felt. Symptoms may come in any order and twice; the answer is the
 * same. Most urgent first, then what several symptoms of that urgency point at, then the usual order of looking, then
 * the catalogue's. No units.
 *
 * @throws NotComputable `/symptoms/n` `unknown-symptom`
 * @see common practice, no source
 */
export function pointsForSymptoms(symptoms: readonly string[]): readonly TriagePoint[] {
  const faults = symptoms.flatMap((symptom, index) =>
    Object.hasOwn(SYMPTOMS, symptom)
      ? []
      : [{ pointer: `/symptoms/${index}`, code: 'unknown-symptom', detail: 'This symptom is not in the catalogue.' }],
  );
  if (faults.length > 0) throw new NotComputable(faults);
  const told = Object.entries(SYMPTOMS).filter(([name]) => symptoms.includes(name));
  const collected = new Map<string, Collected>();
  for (const [name, symptom] of told) collect(collected, name, symptom);
  return [...collected.values()].sort(byImportance).map(asPoint);
}

function collect(into: Map<string, Collected>, name: string, { urgency, points }: Symptom): void {
  for (const [rank, { item, positions, why }] of points.entries()) {
    const known = into.get(item) ?? emptyPoint(item);
    into.set(item, known);
    weigh(known, name, URGENCIES.indexOf(urgency), rank);
    known.everywhere ||= positions === undefined;
    for (const position of positions ?? []) known.positions.add(position);
    known.reasons.push({ symptom: name, why });
  }
}

function weigh(point: Collected, symptom: string, urgency: number, rank: number): void {
  if (urgency > point.urgency) return;
  if (urgency < point.urgency) Object.assign(point, { urgency, rank, urgent: new Set() });
  point.rank = Math.min(point.rank, rank);
  point.urgent.add(symptom);
}

const emptyPoint = (item: string): Collected => ({
  item,
  positions: new Set(),
  everywhere: false,
  urgency: URGENCIES.length,
  rank: Number.POSITIVE_INFINITY,
  urgent: new Set(),
  reasons: [],
});

function byImportance(a: Collected, b: Collected): number {
  const place = (point: Collected): number => ORDER.get(point.item) ?? 0;
  return a.urgency - b.urgency || b.urgent.size - a.urgent.size || a.rank - b.rank || place(a) - place(b);
}

const asPoint = ({ item, positions, everywhere, urgency, reasons }: Collected): TriagePoint => ({
  item,
  positions: everywhere ? [] : [...positions],
  urgency: URGENCIES[urgency] ?? 'note',
  reasons,
});

/**
 * The most urgent thing that the symptoms ask for; `undefined` without a symptom that is known. No units. Never
 * throws. Source: common practice, the table of symptoms.
 */
export function urgencyOf(symptoms: readonly string[]): Urgency | undefined {
  const told = new Set(symptoms.filter((name) => Object.hasOwn(SYMPTOMS, name)).map((name) => SYMPTOMS[name]?.urgency));
  return URGENCIES.find((urgency) => told.has(urgency));
}

const Input = z.strictObject({
  symptoms: z.array(z.string().max(60)).min(1).max(30).describe('What the driver felt: options of debrief.symptoms'),
});

const Result = z.object({
  urgency: z
    .enum(URGENCIES)
    .describe('stop: do not drive before it is found; look: before the next session; note: later'),
  points: z
    .array(
      z.object({
        item: z.string().describe('Catalogue item'),
        label: z.string().describe('Its question'),
        positions: z.array(z.string()).describe('Positions to begin with; empty: all that apply'),
        urgency: z.enum(URGENCIES).describe('Of the most urgent symptom that points here'),
        reasons: z
          .array(
            z.object({ symptom: z.string().describe('The symptom'), why: z.string().describe('Why it points here') }),
          )
          .describe('Every reason to look here'),
      }),
    )
    .describe('Points in the order to look at them'),
});

function cautionsOf(points: readonly TriagePoint[]): string[] {
  const ids = new Set<CautionId>(points.flatMap(({ item }) => findItem(item)?.cautions ?? []));
  return [...ids].map((id) => CAUTIONS[id].text);
}

const stepOf = ({ item, urgency, reasons }: TriagePoint): WorkStep => ({
  what: findItem(item)?.label ?? item,
  formula: 'as urgent as the most urgent symptom that points here',
  numbers: reasons.map(({ symptom, why }) => `${symptom}: ${why}`).join('; '),
  result: urgency,
});

/** `symptom-triage`: what the driver felt last time, to the points to look at first. */
export const SYMPTOM_TRIAGE = calculation({
  name: 'symptom-triage',
  title: 'From what the driver felt to where to look',
  summary: 'Lists the points to look at first for what the driver felt, the most urgent first, with the reasons.',
  input: Input,
  result: Result,
  sources: [{ title: 'Workshop practice', standing: 'common-practice' }],
  example: { symptoms: ['pulls-under-braking', 'wanders'] },
  compute({ symptoms }) {
    const points = pointsForSymptoms(symptoms);
    const urgency = urgencyOf(symptoms);
    if (urgency === undefined) throw notComputable('/symptoms', 'empty', 'Name at least one symptom.');
    return {
      result: {
        urgency,
        points: points.map(({ item, positions, urgency: ofPoint, reasons }) => ({
          item,
          label: findItem(item)?.label ?? item,
          positions: [...positions],
          urgency: ofPoint,
          reasons: [...reasons],
        })),
      },
      steps: points.map(stepOf),
      assumptions: [
        {
          name: 'Order',
          value: 'urgency, then number of symptoms, then usual order of looking',
          standing: 'common-practice',
        },
      ],
      cautions: cautionsOf(points),
    };
  },
});
