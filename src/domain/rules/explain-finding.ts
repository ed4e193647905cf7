import type { Finding, Result } from './finding.ts';
import { amountText, readingText, shortList } from './explain-values.ts';
import type { Test } from './test-schema.ts';

/** The comparison a finding is made of, in one line; `holds` null: it could not be made. */
export interface ExplainedComparison {
  text: string;
  holds: boolean | null;
}

const isNumeric = (kind: Test['kind']): boolean =>
  kind === 'limit' || kind === 'spread' || kind === 'photo' || kind === 'expression';

/** What stands between the two sides, so that the line reads as a sentence. */
function relation(kind: Test['kind'], limit: string): string {
  if (isNumeric(kind)) return limit.replace(/^spread /u, '');
  return kind === 'range' ? `within ${limit}` : limit;
}

/** The comparison of a choice or a yes/no: its words say by themselves whether it holds. */
function choiceText(kind: Test['kind'], value: string, limit: string, holds: boolean): string | undefined {
  const list = limit.replace(/^(one|none) of: /u, '');
  if (kind === 'one-of') return `${value} is ${holds ? '' : 'not '}${shortList(limit)}`;
  if (kind === 'none-of')
    return holds ? `${value} is ${shortList(limit)}` : `${value} is among what is not accepted, ${list}`;
  return kind === 'confirm' ? `answered ${value}, ${holds ? 'as asked' : `asked for is ${limit}`}` : undefined;
}

function distanceText(finding: Finding, kind: Test['kind'], holds: boolean): string {
  const { margin, limit = '' } = finding;
  if (margin === undefined) return '';
  const amount = amountText(Math.abs(margin.value), margin.unit === '1' ? undefined : margin.unit);
  if (margin.value === 0) return holds ? ', exactly on the limit' : ', exactly on the limit, which is not enough';
  if (holds) return `, with ${amount} to spare`;
  if (kind === 'age') return `, too old by ${amount}`;
  if (kind === 'range') return `, outside by ${amount}`;
  return `, ${/[≤<]/u.test(limit) ? 'over' : 'short'} by ${amount}`;
}

/**
 * The comparison of a finding: `3.5 mm ≥ 4 mm is not so, short by 0.5 mm`.
 *
 * @param statement the test in words, for tests that compare nothing that could be shown
 * @param result of the comparison itself: what an inspector saw may have turned the finding since
 */
export function comparisonOf(
  finding: Finding,
  result: Result,
  kind: Test['kind'],
  statement: string,
): ExplainedComparison {
  if (result === 'unanswerable') {
    const wanted = finding.limit === undefined ? '' : ` to compare with ${finding.limit}`;
    return { text: `There is nothing${wanted === '' ? ' to judge' : wanted}: ${finding.message}`, holds: null };
  }
  const holds = result === 'met';
  const isSo = holds ? 'is so' : 'is not so';
  const { measured, limit } = finding;
  if (measured === undefined || limit === undefined) return { text: `${statement}: this ${isSo}`, holds };
  const choice = choiceText(kind, readingText(measured), limit, holds);
  if (choice !== undefined) return { text: choice, holds };
  const sides = `${readingText(measured)} ${relation(kind, limit)}`;
  return { text: `${sides} ${isSo}${distanceText(finding, kind, holds)}`, holds };
}

const FROM_EFFECT = {
  bar: 'The rule bars: the car may not go on track until it is met.',
  inspect: 'The line must look at it.',
  advise: 'It is advice and keeps no car off the track.',
} as const;

/** Why a finding counts what it counts: its result, the rule's effect, stage, concession and watch. */
export function countsText(finding: Finding, stage: 'declaration' | 'line'): string {
  if (finding.watched) return 'The rule is on watch: what it finds is counted and judges nobody.';
  if (finding.result === 'met') return 'It is met and counts nothing.';
  const unknown = finding.result === 'unanswerable' ? 'What is not known counts like not met. ' : '';
  if (finding.effect !== 'bar') return unknown + FROM_EFFECT[finding.effect];
  if (finding.conceded !== undefined) {
    const { expiresAt, condition } = finding.conceded;
    const asks = condition === undefined ? '' : ` It asks for: ${condition}.`;
    return `${unknown}The rule bars, but a concession covers it until ${expiresAt}: the line must look instead.${asks}`;
  }
  if (finding.counts === 'inspect' && stage === 'declaration') {
    return 'Only an inspector answers this, so the line must look; there it bars for as long as it is not known.';
  }
  return unknown + FROM_EFFECT.bar;
}
