import { findItem, positionsFor } from '../../src/domain/catalogue/catalogue.ts';
import type { Item, SimpleAnswerType } from '../../src/domain/catalogue/item.ts';
import type { RawAnswers } from '../../src/domain/declaration/declaration.ts';
import type { Rule, RuleSet } from '../../src/domain/rules/model/rule-set.ts';
import type { ExampleCase, Setting } from './example-case.ts';
import { type Probe, probesOf } from './probes.ts';
import { SETTINGS } from './settings.ts';

/** What else an answer with parts needs, so that one part can be tried. */
const OTHER_PARTS: Readonly<Record<string, Readonly<Record<string, unknown>>>> = {
  'wheel-play.nine-three': { felt: 'none' },
  'wheel-play.twelve-six': { felt: 'none' },
  'steering.free-play': { play: 10, wheelDiameter: 360 },
  'exhaust.sound-level': { level: 90, distance: 0.5, method: 'near-field' },
  'wheel.bent': { bent: true },
  'harness.angles': { shoulder: 12, lap: 60 },
  'full-inspection.done-on': { by: 'Club workshop' },
  'pad.temperature-range': { low: 0 },
};

function typeOf(item: Item, field: string | undefined): SimpleAnswerType {
  const type = item.answer.kind !== 'fields' ? item.answer : item.answer.fields[field ?? '']?.type;
  if (type === undefined) throw new Error(`${item.key} has no part ${field}`);
  return type;
}

function answerOf(item: Item, field: string | undefined, probe: Probe): RawAnswers {
  const wrap = (value: unknown) => (field === undefined ? value : { ...OTHER_PARTS[item.key], [field]: value });
  const positions = positionsFor(item, { description: 'any' });
  if (positions === undefined) return { [item.key]: wrap(probe.value) };
  const at = positions.map((position, index) => [position, wrap(index === 0 ? probe.value : probe.good)]);
  return { [item.key]: Object.fromEntries(at) };
}

function caseOf(item: Item, field: string | undefined, probe: Probe, setting: Setting): ExampleCase {
  const answer = answerOf(item, field, probe);
  const isMeasured = item.answeredBy === 'inspector';
  return {
    ...setting,
    shows: probe.shows,
    result: probe.result,
    ...(probe.result === 'unanswerable' && { expect: 'to-inspect' as const }),
    answers: { ...setting.answers, ...(isMeasured ? {} : answer) },
    ...(isMeasured && { measured: answer }),
  };
}

/**
 * The cases of a rule with a typed test: just inside and just outside of each limit, each option, both answers; and,
 * where the rule has a condition, one in which it does not apply although the answer is bad.
 */
export function deriveCases(rule: Rule, ruleSet: RuleSet): ExampleCase[] {
  const { test } = rule;
  if (test.kind === 'expression') return [];
  const item = findItem(test.item);
  if (item === undefined) throw new Error(`${rule.id}: no item ${test.item}`);
  const field = 'field' in test ? test.field : undefined;
  const { applies = {}, otherwise } = SETTINGS[rule.id] ?? {};
  const given = { rule, type: typeOf(item, field), parameters: ruleSet.parameters, vehicle: applies.vehicle ?? {} };
  const probes = probesOf(given);
  const cases = probes.map((probe) => caseOf(item, field, probe, applies));
  const bad = probes.find((probe) => probe.result === 'not-met');
  if (otherwise === undefined || bad === undefined) return cases;
  const { answers = {}, ...rest } = otherwise;
  const absent = caseOf(item, field, bad, rest);
  return [
    ...cases,
    { ...absent, answers: { ...absent.answers, ...answers }, shows: 'does not apply', result: 'absent' },
  ];
}
