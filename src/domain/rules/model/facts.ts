import { BRAKE_FLUID_FACTS } from '../../facts/brake-fluid.ts';
import { BRAKE_FACTS } from '../../facts/brakes.ts';
import { CHASSIS_FACTS } from '../../facts/chassis.ts';
import { ENGINE_FACTS } from '../../facts/engine.ts';
import type { Fact } from '../../facts/fact.ts';
import { RESTRAINT_FACTS } from '../../facts/restraints.ts';
import { SAFETY_FACTS } from '../../facts/safety.ts';
import { TYRE_MARKING_FACTS } from '../../facts/tyre-marking.ts';
import { TYRE_FACTS } from '../../facts/tyres.ts';
import { WEAR_FACTS } from '../../facts/wear.ts';
import { WHEEL_FACTS } from '../../facts/wheels.ts';

/**
 * Derived facts that expressions read as `facts.<name>`, each with its type, its meaning and how it is worked out. A
 * name that is not here is unknown, and a rule that uses it is refused.
 */
export const FACTS: Readonly<Record<string, Fact>> = {
  ...BRAKE_FACTS,
  ...BRAKE_FLUID_FACTS,
  ...WEAR_FACTS,
  ...TYRE_FACTS,
  ...TYRE_MARKING_FACTS,
  ...WHEEL_FACTS,
  ...ENGINE_FACTS,
  ...CHASSIS_FACTS,
  ...SAFETY_FACTS,
  ...RESTRAINT_FACTS,
};

/** The fact of a name; `undefined` when there is none. */
export function findFact(name: string): Fact | undefined {
  return Object.hasOwn(FACTS, name) ? FACTS[name] : undefined;
}
