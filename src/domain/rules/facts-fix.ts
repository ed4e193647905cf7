import type { PositionScheme } from '../catalogue/item.ts';
import { findFact } from './facts.ts';
import { factPlace } from './facts-place.ts';
import { enclosing, relate } from './position-relations.ts';
import { eachOf } from './rule-each.ts';
import type { RuleFault } from './rule-fault.ts';
import type { EventDays, Rule } from './rule-set.ts';
import type { Run } from './run.ts';

/** The fact's own position where a rule runs; `null` where the rule does not run over single positions of it. */
function positionOf(
  scheme: PositionScheme | undefined,
  each: PositionScheme | undefined,
  position: string | undefined,
): string | undefined | null {
  if (scheme === undefined) return undefined;
  return (each && position !== undefined && enclosing(position, each, scheme)) || null;
}

/** Reads what a rule's `fixFact` adds to `fix` at one position; `undefined` for a rule without one. */
export function bindFixFact(
  { fixFact }: Rule,
  each: PositionScheme | undefined,
  position: string | undefined,
  event: EventDays,
): ((run: Run) => string | undefined) | undefined {
  const fact = fixFact === undefined ? undefined : findFact(fixFact);
  if (fixFact === undefined || fact === undefined) return undefined;
  const at = positionOf(fact.scheme, each, position);
  if (at === null) return undefined;
  const place = factPlace(fixFact, at, event);
  return (run) => {
    const source = run.source;
    const text = place.derive(run);
    // who gave the answers that were judged is not changed by what is told beside
    run.source = source;
    return typeof text === 'string' ? text : undefined;
  };
}

/** What is wrong with the `fixFact` of a rule; `undefined` = nothing. */
export function findFixFactFault(rule: Rule): Pick<RuleFault, 'code' | 'detail'> | undefined {
  const { fixFact } = rule;
  if (fixFact === undefined) return undefined;
  const fact = findFact(fixFact);
  if (fact === undefined) {
    return { code: 'unknown-name', detail: `there is no derived fact ${JSON.stringify(fixFact)}` };
  }
  if (fact.type.kind !== 'string') return { code: 'type-clash', detail: `${JSON.stringify(fixFact)} is not a text` };
  const each = eachOf(rule);
  const isSingle = fact.scheme === undefined || (each !== undefined && spans(fact.scheme, each));
  if (isSingle) return undefined;
  const detail = `${JSON.stringify(fixFact)} is known per ${fact.scheme}, the rule does not run over it`;
  return { code: 'each-mismatch', detail };
}

function spans(scheme: PositionScheme, each: PositionScheme): boolean {
  const relation = relate(scheme, each);
  return relation === 'same' || relation === 'coarser';
}
