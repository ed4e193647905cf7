import { addDays, type PlainDate } from '../calendar.ts';
import type { Finding } from '../rules/model/finding.ts';
import type { Vehicle } from '../vehicle.ts';
import { type Part, workOf } from './work-table.ts';

/** One job on a car: what a rule found, where, what to do, and what to have in stock for it. */
export interface WorkLine {
  ruleId: string;
  title: string;
  /** where on the car; empty: the car as a whole */
  positions: string[];
  /** `bar`: the car stands until it is done; `inspect`: the line looks; `advise`: for later */
  counts: 'bar' | 'inspect' | 'advise';
  message: string;
  fix: string;
  /** what was asked for, in words and numbers */
  limit?: string;
  /** catalogue keys; the first is answered again once it is done */
  items: readonly string[];
  part?: Part;
}

/** A part for a car. */
export interface PartToOrder {
  part: Part;
  /** axles, where it sits at wheels; else the places of the findings; empty: the car has one */
  places: string[];
  /** the car stands without it; else the line looks, and it is good to have */
  isNeeded: boolean;
}

/** What a workshop does to a car before an event. */
export interface WorkOrder {
  /** what stops the car first */
  lines: WorkLine[];
  parts: PartToOrder[];
  /** of the wheel fasteners, N·m, from the record of the car; absent: it does not say */
  wheelTorque?: { nm: number; toleranceNm?: number };
}

/** Days before an event by which parts are ordered, so that they come and are fitted: longer than any part is mostly waited for. Common practice, no source. */
const ORDER_DAYS = 14;

/** The day by which parts are ordered: two weeks before the event, and today once those have begun. */
export function orderBy(startsOn: PlainDate, today: PlainDate): PlainDate {
  const planned = addDays(startsOn, -ORDER_DAYS);
  return planned < today ? today : planned;
}

type Judged = Pick<Finding, 'ruleId' | 'title' | 'position' | 'result' | 'counts' | 'items' | 'message' | 'fix'> &
  Partial<Pick<Finding, 'limit' | 'watched'>>;

const WEIGHT = { bar: 0, inspect: 1, advise: 2 } as const;

/**
 * The work order of a car: a line for each thing that was found, with its places together, and the parts for them. What is
 * only not answered yet is no work, also where a rule asks for nothing but that it is known.
 *
 * @param answered catalogue keys that have an answer at some place; "not sure" is none
 */
export function workOrder(
  findings: readonly Judged[],
  car: Pick<Vehicle, 'wheelNutTorqueNm' | 'wheelNutTorqueToleranceNm'>,
  answered: ReadonlySet<string>,
): WorkOrder {
  const lines = new Map<string, WorkLine>();
  for (const finding of findings) {
    const { counts, result, watched, ruleId, message } = finding;
    if (counts === 'no' || result !== 'not-met' || watched === true) continue;
    if (!answered.has(finding.items[0] ?? '')) continue;
    const name = `${ruleId}\n${counts}\n${message}`;
    const line = lines.get(name) ?? toLine(finding, counts);
    if (finding.position !== undefined) line.positions.push(finding.position);
    lines.set(name, line);
  }
  const sorted = [...lines.values()].toSorted((a, b) => WEIGHT[a.counts] - WEIGHT[b.counts]);
  const nm = car.wheelNutTorqueNm;
  const toleranceNm = car.wheelNutTorqueToleranceNm;
  const torque = nm === undefined ? {} : { wheelTorque: { nm, ...(toleranceNm === undefined ? {} : { toleranceNm }) } };
  return { lines: sorted, parts: partsOf(sorted), ...torque };
}

function toLine({ ruleId, title, message, fix, limit, items }: Judged, counts: WorkLine['counts']): WorkLine {
  const part = partFor(items[0] ?? '');
  return {
    ruleId,
    title,
    positions: [],
    counts,
    message,
    fix,
    ...(limit === undefined ? {} : { limit }),
    items,
    ...(part === undefined ? {} : { part }),
  };
}

/** Where the repair asks for a workshop, it is there already. */
function partFor(item: string): Part | undefined {
  const { part } = workOf(item);
  return part === 'workshop' ? undefined : part;
}

/** Parts at wheels are fitted to both wheels of an axle. */
function placeOf(position: string): string {
  const wheel = /^(F|R)[LR](?:\.|$)/.exec(position);
  if (wheel === null) return position;
  return wheel[1] === 'F' ? 'front' : 'rear';
}

function partsOf(lines: readonly WorkLine[]): PartToOrder[] {
  const parts = new Map<Part, PartToOrder>();
  for (const { part, positions, counts } of lines) {
    if (part === undefined || counts === 'advise') continue;
    const known = parts.get(part) ?? { part, places: [], isNeeded: false };
    known.places = [...new Set([...known.places, ...positions.map(placeOf)])];
    known.isNeeded ||= counts === 'bar';
    parts.set(part, known);
  }
  return [...parts.values()].toSorted((a, b) => Number(b.isNeeded) - Number(a.isNeeded));
}
