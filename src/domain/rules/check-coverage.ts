import type { Shaped } from './check-shape.ts';
import type { RuleWarning } from './rule-fault.ts';
import type { Example } from './rule-set.ts';

/** Results that an example states, by rule id: of the whole rule, or at one position. */
function noteStated(example: Example, stated: Map<string, Set<string>>): void {
  for (const [key, result] of Object.entries(example.findings ?? {})) {
    const [id = ''] = key.split('@');
    const results = stated.get(id) ?? new Set();
    stated.set(id, results.add(result));
  }
}

/** Rules that no example shows met, or none shows not met, by what the examples state under `findings`. */
export function findUncovered({ rules, examples }: Shaped): RuleWarning[] {
  const stated = new Map<string, Set<string>>();
  for (const { value } of examples) noteStated(value, stated);
  return rules.flatMap(({ at, value: { id } }): RuleWarning[] => {
    const results = stated.get(id);
    const pointer = `/rules/${at}`;
    const named = JSON.stringify(id);
    return [
      ...(results?.has('met')
        ? []
        : [{ pointer, code: 'no-passing-example' as const, detail: `no example states that ${named} is met` }]),
      ...(results?.has('not-met')
        ? []
        : [{ pointer, code: 'no-failing-example' as const, detail: `no example states that ${named} is not met` }]),
    ];
  });
}
