import type { GateSnapshot } from '../../domain/gate-snapshot.ts';

// By hand, and not with the library that the server uses: that is a third of what the gate's telephone would load.
type Check = (value: unknown) => boolean;

const text: Check = (value) => typeof value === 'string';
const flag: Check = (value) => typeof value === 'boolean';
const place: Check = (value) => Number.isSafeInteger(value) && (value as number) >= 0;
const instant: Check = (value) => typeof value === 'string' && !Number.isNaN(Date.parse(value));
const one =
  (...words: readonly string[]): Check =>
  (value) =>
    words.some((word) => word === value);
const list =
  (of: Check): Check =>
  (value) =>
    Array.isArray(value) && value.every(of);
const optional =
  (of: Check): Check =>
  (value) =>
    value === undefined || of(value);
const nullable =
  (of: Check): Check =>
  (value) =>
    value === null || of(value);

/** These members and no other: an app that does not know a member must not guess that it does not matter. */
const record =
  (members: Readonly<Record<string, Check>>): Check =>
  (value) => {
    if (typeof value !== 'object' || value === null || Array.isArray(value)) return false;
    const given = new Map<string, unknown>(Object.entries(value));
    const known = [...given.keys()].every((name) => Object.hasOwn(members, name));
    return known && Object.entries(members).every(([name, check]) => check(given.get(name)));
  };

const gateFacts = record({
  withdrawn: optional(flag),
  declared: optional(
    record({ bars: list(record({ title: text, concededUntil: optional(instant), condition: optional(text) })) }),
  ),
  reinspect: optional(text),
  signOff: optional(
    record({
      decision: one('accept', 'accept-with-conditions', 'refuse'),
      note: optional(text),
      validFrom: optional(instant),
      validUntil: optional(instant),
    }),
  ),
  conditions: optional(list(record({ text, dueAt: optional(instant) }))),
  holds: optional(list(text)),
  car: optional(
    record({
      holds: optional(list(record({ reason: text, in: text }))),
      refusals: optional(list(record({ note: optional(text), in: text }))),
      recalls: optional(list(record({ reason: text, in: text }))),
      conditions: optional(list(record({ text, dueAt: optional(instant), in: text }))),
      voidStickers: optional(list(text)),
    }),
  ),
});

const isSnapshot = record({
  iss: text,
  eventId: text,
  name: text,
  asOf: instant,
  staleAfter: instant,
  seq: place,
  head: text,
  newestHold: nullable(record({ number: place, carNumber: text, reason: text, at: instant })),
  days: record({ from: instant, until: instant }),
  runGroups: list(record({ runGroupId: text, name: text })),
  entries: list(
    record({ carNumber: text, group: place, vehicle: optional(text), colour: optional(text), facts: gateFacts }),
  ),
});

/** The list in a payload; undefined when it is none that this version understands. */
export function parseSnapshot(value: unknown): GateSnapshot | undefined {
  if (!isSnapshot(value)) return undefined;
  // Every member was looked at just now.
  const snapshot = value as GateSnapshot;
  return snapshot.entries.every(({ group }) => group < snapshot.runGroups.length) ? snapshot : undefined;
}
