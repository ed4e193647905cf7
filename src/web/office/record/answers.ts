import type { Catalogue, EntryRecord } from '../../api/operations.ts';

type CheckAtLine = EntryRecord['signOffs'][number]['checks'][number] & { by: string };

/** One place that was answered or looked at. */
export interface AnswerRow {
  key: string;
  label: string;
  position: string | undefined;
  declared: unknown;
  /** what the line measured or saw, of the newest sign-off that did */
  measured: unknown;
  by: string | undefined;
  readWith: CheckAtLine['readWith'];
  note: string | undefined;
}

const isRecord = (value: unknown): value is Readonly<Record<string, unknown>> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/** Members of what stands for one answer: a quantity, or that there is none. */
const WHOLE = ['value', 'doesNotApply', 'notSure'];

/**
 * The answers by place, in the order of the catalogue, with what the line found in the same place; what was only looked at comes
 * too. `checks` are the newest first.
 */
export function answersIn(
  answers: Readonly<Record<string, unknown>>,
  { items }: Pick<Catalogue, 'items'>,
  checks: readonly CheckAtLine[],
): AnswerRow[] {
  return items.flatMap(({ key, label, positions }) => {
    const here = checks.filter(({ item }) => item === key);
    const cells = new Map<string | undefined, unknown>();
    const answer = answers[key];
    if (positions !== undefined && isRecord(answer) && !WHOLE.some((name) => name in answer)) {
      for (const [position, value] of Object.entries(answer)) cells.set(position, value);
    } else if (answer !== undefined) cells.set(undefined, answer);
    for (const { position } of here) if (!cells.has(position)) cells.set(position, undefined);
    return [...cells].map(([position, declared]) => {
      const check = here.find((one) => one.position === position);
      return {
        key,
        label,
        position,
        declared,
        measured: check?.value ?? check?.result,
        by: check?.by,
        readWith: check?.readWith,
        note: check?.note,
      };
    });
  });
}

/** What an answer says, and whether it is one. */
export function saidOf(value: unknown): { kind: 'value' | 'not-sure' | 'does-not-apply'; text: string } {
  if (Array.isArray(value)) return { kind: 'value', text: value.map((one) => saidOf(one).text).join(', ') };
  if (!isRecord(value)) return { kind: 'value', text: String(value) };
  if (value['notSure'] === true) return { kind: 'not-sure', text: '' };
  if (value['doesNotApply'] !== undefined) return { kind: 'does-not-apply', text: saidOf(value['doesNotApply']).text };
  if ('value' in value) {
    const { value: number, unit, except } = value;
    const main = [number, unit].flatMap((part) => (part === undefined ? [] : [saidOf(part).text])).join(' ');
    return { kind: 'value', text: except === undefined ? main : `${main}; ${saidOf(except).text}` };
  }
  return {
    kind: 'value',
    text: Object.entries(value)
      .map(([name, one]) => `${name} ${saidOf(one).text}`)
      .join(', '),
  };
}
