import type { ExplainedFinding } from '../../domain/rules/explain.ts';
import type { ExplainedParameter } from '../../domain/rules/explain-parameters.ts';
import { valueText } from '../../domain/rules/explain-values.ts';
import { viewFindings } from '../../http/finding-view.ts';
import type { ParameterView, PositionView } from './schemas.ts';

/** A copy that the response schema can hold: lists in values are readonly inside. */
const plain = (value: unknown): unknown => (Array.isArray(value) ? [...(value as readonly unknown[])] : value);

/** Parameters as callers read them; a value of the rule set itself says which version it is from. */
export function viewParameters(parameters: readonly ExplainedParameter[], version: number): ParameterView[] {
  return parameters.map(({ name, value, unit, meaning, source, from, was }) => ({
    name,
    ...(value !== undefined && { value: plain(value), text: valueText(value, unit) }),
    ...(unit !== undefined && { unit }),
    meaning,
    ...(source !== undefined && { source }),
    origin: {
      from,
      version,
      ...(was !== undefined && { was: { ...was, value: plain(was.value), text: valueText(was.value, was.unit) } }),
    },
  }));
}

/** Positions as callers read them. */
export function viewPositions(positions: readonly ExplainedFinding[]): PositionView[] {
  return positions.flatMap((one) =>
    viewFindings([one.finding]).map((finding) => ({
      ...(one.position !== undefined && { position: one.position }),
      inWords: one.inWords,
      finding,
      ...(one.condition !== undefined && { condition: one.condition }),
      inputs: one.inputs.map(({ value, ...input }) => ({
        ...input,
        ...(value !== undefined && { value: plain(value), valueText: valueText(value, input.unit) }),
      })),
      records: one.records.map((read) => ({ ...read, value: plain(read.value) })),
      facts: one.facts.map((fact) => ({ ...fact, value: plain(fact.value) })),
      comparison: one.comparison,
      counts: one.finding.counts,
      countsBecause: one.countsBecause,
    })),
  );
}
