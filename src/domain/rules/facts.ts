import type { CelType } from './cel/types.ts';

/**
 * Derived facts that expressions read as `facts.<name>`, with their types. The trade computations register theirs
 * here; until a fact is registered its name is unknown and a rule that uses it is refused.
 */
export const FACTS: Readonly<Record<string, CelType>> = {};
