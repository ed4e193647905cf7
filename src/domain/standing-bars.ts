import type { StandingBar } from './clearance.ts';
import type { Finding } from './rules/finding.ts';

/** The findings that keep a car off the track in this judgement. */
export function barringFindings(findings: readonly Finding[]): Finding[] {
  return findings.filter((finding) => finding.counts === 'bar');
}

/** The findings for which the line must look. */
export function inspectFindings(findings: readonly Finding[]): Finding[] {
  return findings.filter((finding) => finding.counts === 'inspect');
}

/**
 * What the clearance keeps of a judgement: each rule that bars once, and each that a concession covers with the end of
 * that concession and what it asks for, so that the bar is back at that second.
 */
export function standingBars(findings: readonly Finding[]): StandingBar[] {
  const bars = new Map<string, StandingBar>();
  for (const finding of findings) {
    if (finding.counts === 'bar') bars.set(finding.ruleId, { ruleId: finding.ruleId, title: finding.title });
    else if (finding.effect === 'bar' && finding.result !== 'met' && finding.conceded && !finding.watched) {
      const { expiresAt: concededUntil, condition } = finding.conceded;
      const bar = { ruleId: finding.ruleId, title: finding.title, concededUntil };
      if (!bars.has(finding.ruleId)) bars.set(finding.ruleId, condition === undefined ? bar : { ...bar, condition });
    }
  }
  return [...bars.values()];
}
