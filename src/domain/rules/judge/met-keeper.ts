import { type Finding, reading } from '../model/finding.ts';
import { type FindingHead, metFinding } from './build-finding.ts';
import type { Run } from './run.ts';

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
