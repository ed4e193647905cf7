import type { StandingBar } from './clearance.ts';
import { epochMs, type Instant } from './instant.ts';
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
 * that concession, so that the bar is back at that second.
 */
export function standingBars(findings: readonly Finding[]): StandingBar[] {
  const bars = new Map<string, StandingBar>();
  for (const finding of findings) {
    if (finding.counts === 'bar') bars.set(finding.ruleId, { ruleId: finding.ruleId, title: finding.title });
    else if (finding.effect === 'bar' && finding.result !== 'met' && finding.conceded !== undefined) {
      const { expiresAt } = finding.conceded;
      if (!bars.has(finding.ruleId)) {
        bars.set(finding.ruleId, { ruleId: finding.ruleId, title: finding.title, concededUntil: expiresAt });
      }
    }
  }
  return [...bars.values()];
}

/** The concessions that are in force at `now`, for each rule the one that lasts longest. Ends are exclusive. */
export function activeConcessions<T extends { ruleId: string; expiresAt: Instant }>(
  granted: readonly T[],
  now: Date,
): T[] {
  const longest = new Map<string, T>();
  for (const concession of granted) {
    const other = longest.get(concession.ruleId);
    if (epochMs(concession.expiresAt) <= now.getTime()) continue;
    if (other === undefined || epochMs(other.expiresAt) < epochMs(concession.expiresAt)) {
      longest.set(concession.ruleId, concession);
    }
  }
  return [...longest.values()];
}
