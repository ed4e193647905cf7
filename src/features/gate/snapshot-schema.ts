// The small build of the same library: this file also runs on the gate's telephone, where every kilobyte is waited for.
import * as z from 'zod/mini';
import type { GateSnapshot } from '../../domain/gate-snapshot.ts';

const instant = z.string().check(z.refine((text) => !Number.isNaN(Date.parse(text)), 'must be an instant'));

// Strict throughout: an app that does not know a member must not guess that it does not matter.
const GateFacts = z.strictObject({
  withdrawn: z.optional(z.boolean()),
  declared: z.optional(
    z.strictObject({
      bars: z.array(
        z.strictObject({
          title: z.string(),
          concededUntil: z.optional(instant),
          condition: z.optional(z.string()),
        }),
      ),
    }),
  ),
  reinspect: z.optional(z.string()),
  signOff: z.optional(
    z.strictObject({
      decision: z.enum(['accept', 'accept-with-conditions', 'refuse']),
      note: z.optional(z.string()),
      validFrom: z.optional(instant),
      validUntil: z.optional(instant),
    }),
  ),
  conditions: z.optional(z.array(z.strictObject({ text: z.string(), dueAt: z.optional(instant) }))),
  holds: z.optional(z.array(z.string())),
});

const place = z.number().check(z.int(), z.gte(0));

const Snapshot = z.strictObject({
  iss: z.string(),
  eventId: z.string(),
  name: z.string(),
  asOf: instant,
  staleAfter: instant,
  seq: place,
  head: z.string(),
  newestHold: z.nullable(z.strictObject({ number: place, carNumber: z.string(), reason: z.string(), at: instant })),
  runGroups: z.array(z.strictObject({ runGroupId: z.string(), name: z.string() })),
  entries: z.array(z.strictObject({ carNumber: z.string(), group: place, facts: GateFacts })),
});

/** The list in a payload; undefined when it is none that this version understands. */
export function parseSnapshot(value: unknown): GateSnapshot | undefined {
  const parsed = Snapshot.safeParse(value);
  if (!parsed.success) return undefined;
  const known = parsed.data.entries.every(({ group }) => group < parsed.data.runGroups.length);
  return known ? parsed.data : undefined;
}
