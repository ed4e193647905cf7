import { AS_DESCRIBED } from '../../domain/car/fact-table.ts';
import { barringFindings } from '../../domain/clearance/clearance.ts';
import type { stillRefused } from '../../domain/clearance/refused-points.ts';
import { notLookedAt } from '../../domain/line/always-look.ts';
import { uncheckedFindings } from '../../domain/line/line-judgement.ts';
import { valuesOn } from '../../domain/line/points-to-check.ts';
import type { Finding, Judgement } from '../../domain/rules/model/finding.ts';
import type { AlwaysLook } from '../../domain/rules/model/rule-set.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { ProblemError } from '../../http/frame/problem.ts';
import type { ReadChecks } from './read-checks.ts';
import type { SignOff } from './schemas.ts';

/**
 * Refuses an acceptance that the rules do not carry: what bars, what nobody looked at or measured, what was not in order.
 *
 * @throws ProblemError `bar-stands`, `points-not-checked` with what stands in the way
 */
export function assertAcceptable(
  signOff: SignOff,
  judgement: Judgement,
  checks: ReadChecks & { vehicle: Vehicle; always: readonly AlwaysLook[] },
): void {
  const bars = barringFindings(judgement.findings);
  if (bars.length > 0) {
    const titles = [...new Set(bars.map((bar) => bar.title))].join('; ');
    throw new ProblemError('bar-stands', `Not met or not known: ${titles}.`, {
      standing: bars.map(standing),
      currentState: 'barred',
    });
  }
  const unchecked = uncheckedFindings(judgement.findings, checks.checked, valuesOn(checks.vehicle));
  // a car that is not what it was said to be was asked the wrong questions: no condition carries that
  const isOther =
    checks.measured.get(AS_DESCRIBED) === false ||
    checks.seen.some(({ item, result }) => item === AS_DESCRIBED && result === 'not-ok');
  const compared = isOther ? checks.checked.filter(({ item }) => item !== AS_DESCRIBED) : checks.checked;
  const unseen = notLookedAt(checks.always, compared, checks.vehicle);
  // What was looked at and is not ok may be carried by conditions; what nobody looked at may not.
  const notOk = signOff.decision === 'accept' ? checks.seen.filter((point) => point.result === 'not-ok') : [];
  if (unchecked.length === 0 && notOk.length === 0 && unseen.length === 0) return;
  const named = [
    ...unseen.map((point) => point.title),
    ...unchecked.map(({ title, clearedBy }) => (clearedBy === 'measure' ? `${title} (a value is needed)` : title)),
    ...notOk.map((point) => `${point.item} was not ok`),
  ];
  const looks = unseen.map(({ id, title, items }) => ({ alwaysLook: id, title, items }));
  throw new ProblemError('points-not-checked', `Open: ${[...new Set(named)].join('; ')}.`, {
    standing: [...looks, ...unchecked.map(standing), ...notOk],
  });
}

/** @throws ProblemError `points-not-checked` where the car was refused for a point that has no new value or state */
export function assertLookedAtAnew(open: ReturnType<typeof stillRefused>): void {
  if (open.length === 0) return;
  const named = open.map(({ item, position }) => (position === undefined ? item : `${item} (${position})`)).join('; ');
  const detail = `The car was refused for these, and they need a new value or state: ${named}.`;
  throw new ProblemError('points-not-checked', detail, { standing: open });
}

function standing({ ruleId, title, position, message, items, clearedBy }: Finding): Record<string, unknown> {
  return {
    ruleId,
    title,
    ...(position === undefined ? {} : { position }),
    items,
    message,
    ...(clearedBy && { clearedBy }),
  };
}
