import type { z } from 'zod';
import { jsonPointer } from '../json-pointer.ts';
import type { RuleFault } from './rule-fault.ts';
import { CategoryName, ConcessionCategory, Example, Parameter, ParameterName, Rule, RuleSet } from './rule-set.ts';

const isRecord = (value: unknown): value is Readonly<Record<string, unknown>> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

function valueAt(raw: unknown, path: readonly PropertyKey[]): unknown {
  let value = raw;
  for (const part of path) {
    if (typeof value !== 'object' || value === null) return undefined;
    value = Object.hasOwn(value, part) ? (value as Readonly<Record<PropertyKey, unknown>>)[part] : undefined;
  }
  return value;
}

function toFaults(raw: unknown, issue: z.core.$ZodIssue): RuleFault[] {
  const pointer = jsonPointer(issue.path);
  if (issue.code === 'unrecognized_keys') {
    return issue.keys.map((key) => ({
      pointer: jsonPointer([...issue.path, key]),
      code: 'bad-shape',
      detail: `${JSON.stringify(key)} is not known here`,
    }));
  }
  const isMissing = valueAt(raw, issue.path) === undefined;
  if (issue.path[0] === 'rules' && issue.path[2] === 'basis' && isMissing && issue.path.length === 3) {
    return [
      {
        pointer,
        code: 'missing-basis',
        detail: 'say where the rule comes from: published with its source, or common-practice',
      },
    ];
  }
  if (issue.code === 'invalid_key')
    return issue.issues.map((inner) => ({ pointer, code: 'bad-shape', detail: inner.message }));
  return [{ pointer, code: 'bad-shape', detail: isMissing ? `missing: ${issue.message}` : issue.message }];
}

const list = (raw: unknown): readonly unknown[] => (Array.isArray(raw) ? raw : []);

function keepValid<T>(schema: z.ZodType<T>, raw: unknown): { at: number; value: T }[] {
  return list(raw).flatMap((one, at) => {
    const parsed = schema.safeParse(one);
    return parsed.success ? [{ at, value: parsed.data }] : [];
  });
}

function keepValidEntries<T>(names: z.ZodType<string>, schema: z.ZodType<T>, raw: unknown): Record<string, T> {
  const kept = Object.entries(isRecord(raw) ? raw : {}).flatMap(([name, one]) => {
    const parsed = schema.safeParse(one);
    return names.safeParse(name).success && parsed.success ? [[name, parsed.data] as const] : [];
  });
  return Object.fromEntries(kept);
}

/** Stands in for words that a rule lacks, so that its test is checked all the same; the lack itself is told. */
const WORDS = { title: '?', message: '?', fix: '?', effect: 'bar', basis: { kind: 'common-practice' } };

const fillWords = (raw: unknown): unknown => (isRecord(raw) ? { ...WORDS, ...raw } : raw);

/** The parts of a document that have the right shape, with their places; the rest is told in `faults`. */
export interface Shaped {
  ruleSet: RuleSet;
  rules: { at: number; value: Rule }[];
  examples: { at: number; value: Example }[];
  faults: RuleFault[];
}

/** Reads a document as far as it can be read, so that all its faults can be told at once. */
export function readShape(raw: unknown): Shaped {
  const parsed = RuleSet.safeParse(raw);
  if (parsed.success) {
    const ruleSet = parsed.data;
    const indexed = <T>(list: readonly T[]) => list.map((value, at) => ({ at, value }));
    return { ruleSet, rules: indexed(ruleSet.rules), examples: indexed(ruleSet.examples), faults: [] };
  }
  const document = isRecord(raw) ? raw : {};
  const rules = keepValid(Rule, list(document['rules']).map(fillWords));
  const ruleSet = {
    name: '',
    parameters: keepValidEntries(ParameterName, Parameter, document['parameters']),
    concessionCategories: keepValidEntries(CategoryName, ConcessionCategory, document['concessionCategories']),
    rules: rules.map(({ value }) => value),
    examples: [],
  };
  const faults = parsed.error.issues.flatMap((issue) => toFaults(raw, issue));
  return { ruleSet, rules, examples: keepValid(Example, document['examples']), faults };
}
