import { z } from 'zod';
import { PARTS } from './rule-set-schema.ts';

/** Parts that are themselves outside a rule set too. */
const OWN_NAMES = new Set(['rule', 'vehicle', 'event-days', 'venue-facts', 'concession-category']);

/**
 * Names the parts of a rule set for the API document, where they stand in several requests: `test-limit` is
 * `RuleTestLimit`. Without a name each of them would be written out at every place.
 */
export function nameRuleSetParts(): void {
  for (const [schema, id] of PARTS) {
    const known = z.globalRegistry.get(schema);
    if (known?.id !== undefined) continue;
    const name = OWN_NAMES.has(id) ? pascalCase(id) : `Rule${pascalCase(id)}`;
    z.globalRegistry.add(schema, { ...known, id: name });
  }
}

/** `state-moved-on` → `StateMovedOn`. */
export const pascalCase = (text: string): string =>
  text.replaceAll(/(?:^|[^A-Za-z0-9]+)([A-Za-z0-9])/g, (_, letter: string) => letter.toUpperCase());
