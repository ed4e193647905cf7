import type { FindingHead } from '../judge/build-finding.ts';
import { type Counts, type Finding, PlainFinding, type Result, type Tally } from './finding.ts';

/** A rule at one of its places: what a letter stands for. */
interface Slot {
  ruleId: string;
  title: string;
  position?: string | undefined;
}

/** As much of a finding as a letter says, with the place that it stands at. */
export interface CodedFinding extends Slot {
  result: Result;
  counts: Counts;
}

/** Stands where a rule gives no finding: it does not apply to these answers. */
const NONE = '-';

const LETTERS: Readonly<Record<Result, Readonly<Record<Counts, string>>>> = {
  met: { no: 'm', advise: 'm', inspect: 'm', bar: 'm' },
  'not-met': { no: 'N', advise: 'A', inspect: 'I', bar: 'B' },
  unanswerable: { no: 'n', advise: 'a', inspect: 'i', bar: 'b' },
};

type Code = Pick<CodedFinding, 'result' | 'counts'>;

const CODES: ReadonlyMap<string, Code> = new Map([
  ['m', { result: 'met', counts: 'no' }],
  ...(['not-met', 'unanswerable'] as const).flatMap((result) =>
    (['no', 'advise', 'inspect', 'bar'] as const).map(
      (counts) => [LETTERS[result][counts], { result, counts }] as [string, Code],
    ),
  ),
]);

/** Whether a finding stands at a place. */
const isAt = (finding: Slot | undefined, { ruleId, position }: Slot): boolean =>
  finding !== undefined && finding.ruleId === ruleId && finding.position === position;

/**
 * A judgement as one letter per place, in the order of the rules: `m` met; `B`, `I`, `A`, `N` not met, and `b`, `i`, `a`, `n`
 * without an answer, by whether it bars, is looked at, is advice or counts for nothing; `-` where the rule does not apply.
 *
 * @param slots all places of the rules for this car, in their order
 * @param findings in the same order, at some of these places
 */
export function codesOf(slots: readonly Slot[], findings: readonly Finding[]): string {
  let next = 0;
  let codes = '';
  for (const slot of slots) {
    const finding = findings[next];
    if (finding === undefined || !isAt(finding, slot)) codes += NONE;
    else {
      codes += LETTERS[finding.result][finding.counts];
      next += 1;
    }
  }
  if (next !== findings.length) throw new Error('findings stand where no rule is');
  return codes;
}

/** What letters say, place by place; undefined where they are not letters of exactly these places. */
export function readCodes(slots: readonly Slot[], codes: string): CodedFinding[] | undefined {
  if (codes.length !== slots.length) return undefined;
  const read: CodedFinding[] = [];
  for (const [index, { ruleId, title, position }] of slots.entries()) {
    const letter = codes.charAt(index);
    if (letter === NONE) continue;
    const code = CODES.get(letter);
    if (code === undefined) return undefined;
    read.push(position === undefined ? { ruleId, title, ...code } : { ruleId, title, position, ...code });
  }
  return read;
}

/** The same counts as those of the findings. */
export function tallyOfCodes(codes: string): Tally {
  const tally = { all: 0, met: 0, bar: 0, inspect: 0, advise: 0 };
  for (const letter of codes) {
    const code = CODES.get(letter);
    if (code === undefined) continue;
    tally.all += 1;
    if (code.result === 'met') tally.met += 1;
    if (code.counts !== 'no') tally[code.counts] += 1;
  }
  return tally;
}

/** What is kept of a judgement. */
interface ToldBefore {
  /** by place; undefined where it cannot be told any more at which places the letters stand */
  codes: readonly CodedFinding[] | undefined;
  /** the findings that counted, as they were told */
  counting: readonly Finding[];
}

const placeOf = ({ ruleId, position }: { ruleId: string; position?: string | undefined }): string =>
  `${ruleId}\n${position ?? ''}`;

/**
 * All findings of a judgement as far as they are known, from what is kept of it and the same judged again: those that counted
 * as they were told; what was met as it is judged now, and without its reading where it is not met any more. Where the places
 * of the letters are not known, what was met is known only of what is met now.
 *
 * @param heads all places of the rules for this car, in their order
 */
export function toldFindings(
  heads: readonly FindingHead[],
  { codes, counting }: ToldBefore,
  again: readonly Finding[],
): Finding[] {
  const kept = new Map(counting.map((finding) => [placeOf(finding), finding]));
  const now = new Map(again.filter(({ result }) => result === 'met').map((finding) => [placeOf(finding), finding]));
  const met = codes && new Set(codes.filter(({ result }) => result === 'met').map(placeOf));
  const told: Finding[] = [];
  for (const head of heads) {
    const place = placeOf(head);
    const asMet = () => now.get(place) ?? (met && metThen(head));
    const one = kept.get(place) ?? (met === undefined || met.has(place) ? asMet() : undefined);
    kept.delete(place);
    if (one !== undefined) told.push(one);
  }
  return [...told, ...kept.values()];
}

/** It was met; by which reading is not kept. */
const metThen = (head: FindingHead): Finding =>
  new PlainFinding(head, 'met', 'no', undefined, undefined, undefined, undefined, '', '', undefined, undefined, 'look');
