import type { Basis, Effect, Finding, Reading } from './finding.ts';
import { PlainFinding, reading } from './finding-record.ts';
import type { Missing, Run } from './run.ts';
import { countsAs } from './verdict.ts';

/** What all findings of one rule at one position share. */
export interface FindingHead {
  ruleId: string;
  title: string;
  position: string | undefined;
  effect: Effect;
  /** on watch: its findings are counted and judge nobody */
  watched: true | undefined;
  items: readonly string[];
  basis: Basis;
  message: string;
  fix: string;
  /** what a derived fact adds to `fix`, where it is known */
  fixMore?: ((run: Run) => string | undefined) | undefined;
}

/** A rule at one position: judges a run; `undefined` = the rule does not apply to it. */
export type Judge = (run: Run) => Finding | undefined;

/** The finding of a rule that is met. */
export function metFinding(
  head: FindingHead,
  run: Run,
  measured: Reading | undefined,
  limit: string | undefined,
  margin: Finding['margin'],
): Finding {
  return new PlainFinding(head, 'met', 'no', measured, limit, margin, run.source, '', '', undefined);
}

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

function fixOf(head: FindingHead, run: Run): string {
  const more = head.fixMore?.(run);
  return more === undefined ? head.fix : `${head.fix} ${more}`;
}

function concededOf(head: FindingHead, run: Run): Finding['conceded'] {
  const concession = run.concessions?.get(head.ruleId);
  if (concession === undefined) return undefined;
  const { concessionId, expiresAt, condition } = concession;
  return condition === undefined ? { concessionId, expiresAt } : { concessionId, expiresAt, condition };
}

/** The finding of a rule that is not met. */
export function notMetFinding(
  head: FindingHead,
  run: Run,
  measured: Reading | undefined,
  limit: string | undefined,
  margin: Finding['margin'],
): Finding {
  const conceded = concededOf(head, run);
  const isConceded = conceded !== undefined;
  const counts = head.watched ? 'no' : countsAs('not-met', head.effect, isConceded, run.stage, false);
  const { message } = head;
  const fix = fixOf(head, run);
  return new PlainFinding(head, 'not-met', counts, measured, limit, margin, run.source, message, fix, conceded);
}

/** The finding of a rule that lacks an input, or whose inputs give no answer; the message names them. */
export function unanswerableFinding(
  head: FindingHead,
  run: Run,
  missing: readonly Missing[],
  limit?: string,
  measured?: Reading,
): Finding {
  const conceded = concededOf(head, run);
  const awaitsInspector = missing.length > 0 && missing.every((one) => one.inspectorOnly);
  const says = [...new Set(missing.map((one) => one.says))].join('; ');
  const isConceded = conceded !== undefined;
  const counts = head.watched ? 'no' : countsAs('unanswerable', head.effect, isConceded, run.stage, awaitsInspector);
  const message = says === '' ? 'The answers given do not allow an answer here' : says;
  const { source } = run;
  const fix = fixOf(head, run);
  return new PlainFinding(head, 'unanswerable', counts, measured, limit, undefined, source, message, fix, conceded);
}
