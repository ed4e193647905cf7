import { decideWetTyres } from '../../domain/clearance/decide-wet-tyres.ts';
import type { WetTyres } from '../../domain/clearance/wet-tyres.ts';
import type { Answers } from '../../domain/declaration/declaration.ts';
import { ownNumber } from '../../domain/rules/model/own-parameters.ts';
import { type JudgingRules, overridesOf, type RulesRef } from './rules.ts';

/**
 * Whether the tyres are fit for a wet track under the rules that judge the car; what was measured wins over what was
 * declared. Decided when it is declared or looked at, so that the gate needs to know nothing but whether it is wet.
 *
 * @returns undefined: not known
 */
export function judgeWetTyres(
  rules: JudgingRules,
  ref: Pick<RulesRef, 'resolvedHash' | 'parameters'>,
  { answers, measured }: { answers: Answers; measured?: Answers },
): WetTyres | undefined {
  const limitMm = ownNumber(rules.compiled.ruleSet, overridesOf(ref), 'wetTreadMinimum');
  return limitMm === undefined ? undefined : decideWetTyres(answers, measured, limitMm);
}
