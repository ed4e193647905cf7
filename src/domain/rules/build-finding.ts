import type { Basis, Effect, Finding, Reading } from './finding.ts';
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
  return {
    ruleId: head.ruleId,
    title: head.title,
    position: head.position,
    result: 'met',
    effect: head.effect,
    counts: 'no',
    items: head.items,
    measured,
    limit,
    margin,
    source: run.source,
    basis: head.basis,
    message: '',
    fix: '',
    watched: head.watched,
    conceded: undefined,
  };
}

/**
 * `metFinding` for answers without a margin: keeps the last finding and hands it out again while nothing in it
 * changes. Most cars give most rules the same good answer. The kept finding is frozen, because judgements share it.
 */
export function keepMet(
  head: FindingHead,
  limit: string | undefined,
): (run: Run, answer: string | boolean | undefined) => Finding {
  let kept: Finding | undefined;
  let keptAnswer: string | boolean | undefined;
  return (run, answer) => {
    if (kept !== undefined && keptAnswer === answer && kept.source === run.source) return kept;
    const measured = answer === undefined ? undefined : Object.freeze({ value: answer });
    kept = Object.freeze(metFinding(head, run, measured, limit, undefined));
    keptAnswer = answer;
    return kept;
  };
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
  return {
    ruleId: head.ruleId,
    title: head.title,
    position: head.position,
    result: 'not-met',
    effect: head.effect,
    counts: head.watched ? 'no' : countsAs('not-met', head.effect, conceded !== undefined, run.stage, false),
    items: head.items,
    measured,
    limit,
    margin,
    source: run.source,
    basis: head.basis,
    message: head.message,
    fix: fixOf(head, run),
    watched: head.watched,
    conceded,
  };
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
  return {
    ruleId: head.ruleId,
    title: head.title,
    position: head.position,
    result: 'unanswerable',
    effect: head.effect,
    counts: head.watched
      ? 'no'
      : countsAs('unanswerable', head.effect, conceded !== undefined, run.stage, awaitsInspector),
    items: head.items,
    measured,
    limit,
    margin: undefined,
    source: run.source,
    basis: head.basis,
    message: says === '' ? 'The answers given do not allow an answer here' : says,
    fix: fixOf(head, run),
    watched: head.watched,
    conceded,
  };
}
