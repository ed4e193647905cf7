import { type Finding, type Judgement, verdictOf } from '../rules/model/finding.ts';

/** What the inspector saw at a point without measuring it. */
export interface SeenPoint {
  item: string;
  position?: string | undefined;
  result: 'ok' | 'not-ok';
}

/** A point that was looked at, by a measurement or by eye. */
export interface CheckedPoint {
  item: string;
  position?: string | undefined;
}

/** An exception to one rule that is in force. */
export interface ActiveConcession {
  concessionId: string;
  ruleId: string;
  /** instant, RFC 3339 UTC */
  expiresAt: string;
  /** what it asks for */
  condition?: string | undefined;
}

/**
 * Adds what was seen to a judgement: a point marked not ok makes every rule that reads it not met there, whatever was
 * declared. A point marked ok changes no result: looking does not outweigh a value that is out of limits.
 *
 * @param concessions those in force: they cover what was seen just as they cover what was declared or measured
 */
export function withSeenPoints(
  judgement: Judgement,
  seen: readonly SeenPoint[],
  concessions: readonly ActiveConcession[] = [],
): Judgement {
  const bad = seen.filter((point) => point.result === 'not-ok');
  if (bad.length === 0) return judgement;
  const findings = judgement.findings.map((finding) => {
    if (!bad.some((point) => covers(point, finding))) return finding;
    return failed(
      finding,
      concessions.find((concession) => concession.ruleId === finding.ruleId),
    );
  });
  return { findings, verdict: verdictOf(findings) };
}

/** The findings the line must look at that no check covers. */
export function uncheckedFindings(findings: readonly Finding[], checked: readonly CheckedPoint[]): Finding[] {
  return findings.filter((finding) => finding.counts === 'inspect' && !checked.some((point) => covers(point, finding)));
}

/** A check at a position covers findings at it and below it (`FL` covers `FL.in`), and whole-car findings of its item. */
function covers(point: CheckedPoint, finding: Finding): boolean {
  if (!finding.items.includes(point.item)) return false;
  if (point.position === undefined || finding.position === undefined) return true;
  const [a, b] = [point.position, finding.position];
  return a === b || a.startsWith(`${b}.`) || b.startsWith(`${a}.`);
}

function concededBy({ concessionId, expiresAt, condition }: ActiveConcession): NonNullable<Finding['conceded']> {
  return condition === undefined ? { concessionId, expiresAt } : { concessionId, expiresAt, condition };
}

function failed(finding: Finding, concession: ActiveConcession | undefined): Finding {
  // A finding that was met does not carry the concession that covers its rule.
  const conceded = finding.conceded ?? (concession && concededBy(concession));
  const counts = finding.effect === 'bar' && conceded !== undefined ? 'inspect' : finding.effect;
  return {
    ...finding,
    result: 'not-met',
    counts,
    ...(conceded === undefined ? {} : { conceded }),
    source: 'measured',
    message: finding.message === '' ? `The inspector found "${finding.title}" not ok.` : finding.message,
    fix: finding.fix === '' ? 'Mend what the inspector showed you, then submit the declaration again.' : finding.fix,
  };
}
