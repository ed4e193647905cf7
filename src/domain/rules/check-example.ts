import { type Answers, parseAnswers } from '../declaration.ts';
import { checkOverridesWith } from './check-parameters.ts';
import { jsonPointer } from '../json-pointer.ts';
import { type CompiledRuleSet, compileRuleSet } from './compile-rule-set.ts';
import { evaluate } from './evaluate.ts';
import type { Finding, Judgement, Result } from './finding.ts';
import type { RuleFault } from './rule-fault.ts';
import type { Uses } from './rule-scope.ts';
import type { Example, RuleSet } from './rule-set.ts';

const WORST: readonly Result[] = ['not-met', 'unanswerable', 'met'];

const nameOf = (finding: Finding): string =>
  finding.position === undefined ? finding.ruleId : `${finding.ruleId}@${finding.position}`;

/** The result under a key of `findings`: of one position, or the worst of a rule's positions. */
function resultOf(judgement: Judgement, key: string): Result | 'absent' {
  const of = judgement.findings.filter((finding) => finding.ruleId === key || nameOf(finding) === key);
  return WORST.find((result) => of.some((finding) => finding.result === result)) ?? 'absent';
}

function describeCause(judgement: Judgement): string {
  const heavy = judgement.findings.filter((finding) => finding.counts === 'bar' || finding.counts === 'inspect');
  const named = heavy.slice(0, 5).map((finding) => `${nameOf(finding)} ${finding.result}: ${finding.message}`);
  return named.length === 0 ? 'nothing counts against it' : named.join(' | ');
}

function readAnswers(raw: unknown, pointer: string, faults: RuleFault[]): Answers {
  const parsed = parseAnswers(raw);
  if (parsed.ok) return parsed.answers;
  for (const fault of parsed.faults)
    faults.push({ pointer: `${pointer}${fault.pointer}`, code: 'bad-example', detail: fault.detail });
  return new Map();
}

function checkReferences(example: Example, ruleSet: RuleSet, pointer: string, uses: Uses): RuleFault[] {
  const ids = new Set(ruleSet.rules.map((rule) => rule.id));
  const faults = checkOverridesWith(ruleSet, example.parameters ?? {}, uses).map((fault) => ({
    ...fault,
    pointer: `${pointer}/parameters${fault.pointer}`,
  }));
  const unknown = (path: string, id: string) =>
    faults.push({
      pointer: `${pointer}${path}`,
      code: 'unknown-rule',
      detail: `there is no rule ${JSON.stringify(id)}`,
    });
  example.only?.forEach((id, index) => ids.has(id) || unknown(`/only/${index}`, id));
  for (const key of Object.keys(example.findings ?? {})) {
    const [id = ''] = key.split('@');
    if (!ids.has(id)) unknown(jsonPointer(['findings', key]), id);
  }
  return faults;
}

function compare(example: Example, judgement: Judgement, pointer: string): RuleFault[] {
  const faults: RuleFault[] = [];
  if (judgement.verdict !== example.expect) {
    const detail = `${JSON.stringify(example.name)} must be ${example.expect} and is ${judgement.verdict} (${describeCause(judgement)})`;
    faults.push({ pointer: `${pointer}/expect`, code: 'example-failed', detail });
  }
  for (const [key, expected] of Object.entries(example.findings ?? {})) {
    const actual = resultOf(judgement, key);
    if (actual === expected) continue;
    const detail = `${JSON.stringify(example.name)}: ${key} must be ${expected} and is ${actual}`;
    faults.push({ pointer: `${pointer}${jsonPointer(['findings', key])}`, code: 'example-failed', detail });
  }
  return faults;
}

/** Most examples judge one rule, several the same: what judges these rules alone is made once. */
const alone = new WeakMap<CompiledRuleSet, Map<string, CompiledRuleSet>>();

function judgedBy(compiled: CompiledRuleSet, only: readonly string[]): CompiledRuleSet {
  const known = alone.get(compiled) ?? new Map<string, CompiledRuleSet>();
  alone.set(compiled, known);
  const key = only.join(' ');
  const { ruleSet } = compiled;
  const made =
    known.get(key) ?? compileRuleSet({ ...ruleSet, rules: ruleSet.rules.filter((rule) => only.includes(rule.id)) });
  known.set(key, made);
  return made;
}

/** Judges an example and tells where it does not come out as it says. */
export function checkExample(example: Example, compiled: CompiledRuleSet, pointer: string, uses: Uses): RuleFault[] {
  const { ruleSet } = compiled;
  const faults = checkReferences(example, ruleSet, pointer, uses);
  const answers = readAnswers(example.answers, `${pointer}/answers`, faults);
  const measured = example.measured && readAnswers(example.measured, `${pointer}/measured`, faults);
  if (faults.length > 0) return faults;
  const judged = example.only === undefined ? compiled : judgedBy(compiled, example.only);
  const judgement = evaluate(judged, {
    answers,
    ...(measured !== undefined && { measured }),
    ...(example.photos !== undefined && { photos: example.photos }),
    vehicle: example.vehicle,
    event: example.event,
    venue: example.venue ?? {},
    earlier: example.earlier,
    parameters: example.parameters ?? {},
    concessions: [],
    stage: example.stage ?? 'declaration',
  });
  return compare(example, judgement, pointer);
}
