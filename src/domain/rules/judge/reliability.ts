import { type Finding, quantity, reading, type Reliability } from '../model/finding.ts';
import { type FindingHead, metFinding, notMetFinding, unreliableFinding } from './build-finding.ts';
import type { AnswerPlace, Run } from './run.ts';
import type { SimpleAnswerType } from '../../catalogue/item.ts';
import { conformityProbability, formatQuantity, roundTo, type Unit } from '../../quantity.ts';
import { readWithName, toReadWith, uncertaintyIn } from '../../line/instruments.ts';
import type { Decision } from '../model/rule-set.ts';

/** A finding that is handed out again, and when; linked, because a list of so few takes longer to reach. */
interface Kept {
  answer: string | boolean | undefined;
  source: Finding['source'];
  finding: Finding;
  next: Kept | undefined;
}

/** Good answers to one rule are few; a bound, because the text of an answer can be anything. */
const MAX_KEPT = 4;

/**
 * Findings of a rule that is met, without a margin. They are kept instead of made for each car: most cars give most
 * rules the same good answer. They are frozen, because judgements share them, and never replaced, which is dear.
 */
export class MetKeeper {
  readonly #head: FindingHead;
  readonly #limit: string | undefined;
  #kept: Kept | undefined = undefined;
  #count = 0;

  constructor(head: FindingHead, limit: string | undefined) {
    this.#head = head;
    this.#limit = limit;
  }

  /** The kept finding of an answer that is known to meet the rule. */
  find(run: Run, answer: string | boolean | undefined): Finding | undefined {
    for (let one = this.#kept; one !== undefined; one = one.next) {
      if (one.answer === answer && one.source === run.source) return one.finding;
    }
    return undefined;
  }

  /** The finding of an answer that meets the rule. */
  met(run: Run, answer: string | boolean | undefined): Finding {
    const found = this.find(run, answer);
    if (found !== undefined) return found;
    const measured = answer === undefined ? undefined : Object.freeze(reading(answer));
    const finding = metFinding(this.#head, run, measured, this.#limit, undefined);
    if (this.#count < MAX_KEPT) {
      this.#count += 1;
      this.#kept = { answer, source: run.source, finding: Object.freeze(finding), next: this.#kept };
    }
    return finding;
  }
}

type NumberType = Extract<SimpleAnswerType, { kind: 'number' }>;

/**
 * Makes the finding of a number that was compared with its limits. What was measured at the line is taken as it is, unless
 * the rule guards it; what was declared inside the limit must be likely to be what was meant, and inside by more than the
 * reading may be wrong, where the rule does not decide simply. How wrong it may be is what such values are usually read with,
 * or at the line what the inspector said he read it with.
 *
 * @param place of the value judged
 * @returns arguments: the value; whether it is inside; its distance to the nearer limit, negative outside; the limit as
 *   text and as numbers, all in the item's unit. They stand alone because an object of them would be made for each number.
 */
export function numberJudge(
  head: FindingHead,
  { unit, decimals, plausible, uncertainty }: NumberType,
  decision: Decision,
  place: AnswerPlace,
): (
  run: Run,
  value: number,
  isMet: boolean,
  margin: number,
  limit: string,
  atLeast: number | undefined,
  atMost: number | undefined,
) => Finding {
  const usual: Doubt = {
    expanded: decision === 'simple' ? 0 : (uncertainty?.expanded ?? 0),
    instrument: uncertainty?.instrument ?? '',
  };
  const [from, to] = plausible ?? [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY];
  const nameOfReadWith = readWithName(place.cell);
  // only rules that guard what the line measured ask for it
  const named = (run: Run): Doubt => {
    const readWith = decision === 'guarded' ? toReadWith(run.measured?.get(nameOfReadWith)) : undefined;
    const expanded = readWith && uncertaintyIn(unit, readWith);
    return readWith === undefined || expanded === undefined ? usual : { expanded, instrument: readWith.name };
  };
  const doubted = (
    run: Run,
    value: number,
    margin: number,
    limit: string,
    atLeast: number | undefined,
    atMost: number | undefined,
  ): Finding => {
    const { expanded, instrument } = named(run);
    const measured = quantity(value, unit);
    const isMeasured = isMeasuredAt(run, place);
    const isSlip = !isMeasured && (value < from || value > to);
    if (!isSlip && (margin >= expanded || (isMeasured && decision !== 'guarded')))
      return metFinding(head, run, measured, limit, quantity(margin, unit));
    const conformity = isSlip ? 0 : roundTo(conformityProbability(value, expanded / 2, { atLeast, atMost }), 3);
    const why: Reliability = isSlip
      ? { kind: 'implausible', from, to }
      : { kind: 'too-close', uncertainty: expanded, instrument, conformity };
    const distance = quantity(margin, unit);
    if (!isMeasured)
      return unreliableFinding(head, run, measured, limit, distance, why, unreliableTexts(value, unit, limit, why));
    // what is measured must be inside of the limit moved by U
    const inner = quantity(roundTo(margin - expanded, Math.max(decimals, 3)), unit);
    return notMetFinding(head, run, measured, movedLimit(limit, unit, { atLeast, atMost }, expanded), inner, why);
  };
  return (run, value, isMet, margin, limit, atLeast, atMost) => {
    // nearly every number goes one of these two ways: nothing more may be made on them
    if (!isMet) return notMetFinding(head, run, quantity(value, unit), limit, quantity(margin, unit));
    if (margin >= usual.expanded && value >= from && value <= to && run.measured === undefined)
      return metFinding(head, run, quantity(value, unit), limit, quantity(margin, unit));
    return doubted(run, value, margin, limit, atLeast, atMost);
  };
}

/** How far a reading may be off, and by what. */
interface Doubt {
  expanded: number;
  instrument: string;
}

/** Whether the value itself was measured: that something else of the rule was makes it no better. */
const isMeasuredAt = ({ measured }: Run, { cell, lowest }: AnswerPlace): boolean =>
  measured !== undefined && (measured.has(cell) || (lowest !== undefined && measured.has(lowest.cell)));

/** The text of a limit that is moved by U to the safe side. */
function movedLimit(
  limit: string,
  unit: Unit,
  { atLeast, atMost }: { atLeast: number | undefined; atMost: number | undefined },
  expanded: number,
): string {
  const low = atLeast === undefined ? undefined : formatQuantity(atLeast + expanded, unit);
  const high = atMost === undefined ? undefined : formatQuantity(atMost - expanded, unit);
  if (low !== undefined && high !== undefined) return `${low} to ${high}`;
  const [sign = ''] = limit.split(' ');
  return `${sign} ${low ?? high}`;
}

/** What the entrant reads where a value inside its limit is not enough. */
export function unreliableTexts(
  value: number,
  unit: Unit,
  limit: string,
  reliability: Reliability,
): { message: string; fix: string } {
  const shown = formatQuantity(value, unit);
  if (reliability.kind === 'implausible') {
    const { from, to } = reliability;
    const usual = `${formatQuantity(from, unit)} to ${formatQuantity(to, unit)}`;
    const slip = slipOf(value, from, to);
    const meant = slip === undefined ? '' : ` Did you mean ${formatQuantity(slip, unit)}?`;
    return {
      message: `${shown} is hardly possible here: usual is ${usual}.${meant}`,
      fix: 'Read it again and correct it. If it is right, the line measures it.',
    };
  }
  const spread = formatQuantity(reliability.uncertainty, unit);
  return {
    message: `Too close to call: a reading of ${shown} (${reliability.instrument}) can be ${spread} off, and ${limit} is asked.`,
    fix: 'The line measures it. If you can, put it right before, or measure again with a better instrument.',
  };
}

/** A value that a misplaced decimal point would make of one that is usual. */
function slipOf(value: number, from: number, to: number): number | undefined {
  return [value / 10, value / 100, value * 10, value / 1000].find((one) => one >= from && one <= to);
}
