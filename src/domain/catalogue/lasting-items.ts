/**
 * Items whose answer mostly stays from event to event: what is filled in or fitted, with its dates. Taking one over by
 * mistake is at worst too strict (a service since then is not counted). Nothing that wears, and no tyre.
 */
export const LASTING_ITEMS: ReadonlySet<string> = new Set([
  'oil.grade',
  'oil.changed-on',
  'brake-fluid.class',
  'brake-fluid.dry-boiling-point',
  'brake-fluid.wet-boiling-point',
  'brake-fluid.flushed-on',
  'clutch-fluid.class',
  'fuel.gas',
  'gas.test-valid-through',
  'gearbox-fluid.changed-on',
  'differential-fluid.changed-on',
  'damper.serviced-on',
  'coolant.changed-on',
  'coolant.type',
  'coolant.cap-pressure',
  'rollover.structure',
  'rollover.closed-car',
  'rollover.padding',
  'helmet.standard',
  'helmet.made-on',
  'clothing',
  'eyewear',
  'harness.standard',
  'harness.label-kind',
  'harness.label-date',
  'harness.shoulder-fixing',
  'harness.seat-slots',
  'head-restraint.standard',
  'seat.standard',
  'seat.made-on',
  'extinguisher.type',
  'extinguisher.serviced-on',
  'fuel-cell.made-on',
]);

/** What the driver wears: it goes with the person and not with the car. */
export const WORN_ITEMS = [
  'helmet.standard',
  'helmet.made-on',
  'clothing',
  'eyewear',
  'head-restraint.standard',
  'head-restraint.tether-posts',
] as const;

/** Items about the person in the car and the papers he signs: another entrant of the same car is not shown them. */
export const PERSONAL_ITEMS: ReadonlySet<string> = new Set([
  ...WORN_ITEMS,
  'full-inspection.done-on',
  'pre-event-check.done-on',
  'declaration.true-and-complete',
  'debrief.symptoms',
]);

/** Items that are answered anew each time, whatever was said before. */
export const FRESH_ITEMS: ReadonlySet<string> = new Set([
  'debrief.symptoms',
  'declaration.true-and-complete',
  'pad.new-since-last',
  'tyre.new-since-last',
]);

/** Items that only the driver can say, who wears the thing or signs for it: no shop answers them for an owner. */
export const DRIVER_ITEMS: ReadonlySet<string> = new Set([
  ...WORN_ITEMS,
  'pre-event-check.done-on',
  'declaration.true-and-complete',
]);
