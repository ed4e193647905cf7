import type { ClearanceStatus } from '../../src/domain/clearance/clearance.ts';
import type { Verdict } from '../../src/domain/rules/model/finding.ts';
import type { Changes } from '../answers.ts';
import type { CarKind } from '../cars.ts';

export type GroupName = 'Novice' | 'Intermediate' | 'Advanced';

/** How far an entry goes in the demo. */
export type Plan =
  | { does: 'nothing' }
  | { does: 'save' }
  | { does: 'submit' }
  | { does: 'withdraw'; reason: string }
  | { does: 'accept'; checks?: readonly Check[]; expires?: true }
  | { does: 'accept-with-conditions'; condition: string; due?: 'soon' | 'tomorrow' }
  | { does: 'refuse'; note: string; checks?: readonly Check[] }
  | { does: 'hold'; reason: string }
  | { does: 'concede'; ruleId: string; reason: string; checks: readonly Check[] };

/** What the inspector measures or looks at, in the form of a check of a sign-off. */
export type Check = { item: string; position?: string } & ({ value: unknown } | { result: 'ok' });

export interface DemoEntry {
  number: string;
  group: GroupName;
  /** absent: the car is entered under this number in another group already */
  car?: CarKind;
  driver: string;
  /** what is different from a car in good order */
  changes?: Changes;
  plan: Plan;
  /** what the rules say of the declaration; absent where nothing is declared */
  verdict?: Verdict;
}

/** What the gate must say of an entry when the demo is done. */
export function statusAfter({ plan, verdict }: DemoEntry): ClearanceStatus {
  switch (plan.does) {
    case 'nothing':
    case 'save':
      return 'no-declaration';
    case 'submit':
      return verdict === 'barred' ? 'barred' : 'in-line';
    case 'accept':
      return plan.expires ? 'expired' : 'clear';
    case 'accept-with-conditions':
      return plan.due === 'soon' ? 'held' : 'clear-with-conditions';
    case 'concede':
      return 'clear';
    case 'refuse':
      return 'refused';
    case 'hold':
      return 'held';
    case 'withdraw':
      return 'withdrawn';
  }
}

/** Whether the gate says so; a group may ask of each accepted car that its wheel torque is checked again. */
export function isAsPlanned(entry: DemoEntry, status: string | undefined): boolean {
  const wanted = statusAfter(entry);
  return status === wanted || (wanted === 'clear' && status === 'clear-with-conditions');
}

/** Whether the entry has something that must be over when the demo is done: a short sign-off, a condition due. */
export function endsSoon({ plan }: DemoEntry): boolean {
  return (
    (plan.does === 'accept' && plan.expires === true) || (plan.does === 'accept-with-conditions' && plan.due === 'soon')
  );
}
