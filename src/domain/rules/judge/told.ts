import type { CodedFinding } from '../model/codes.ts';
import { type Finding, PlainFinding } from '../model/finding.ts';
import type { FindingHead } from './build-finding.ts';

/** What is kept of a judgement. */
export interface ToldBefore {
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
