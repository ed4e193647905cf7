import { foldCar } from '../../../src/domain/clearance/car-happenings.ts';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import * as z from 'zod';
import { foldClearance } from '../../../src/domain/clearance/clearance.ts';
import { toGateFacts } from '../../../src/domain/clearance/gate-snapshot.ts';
import { parseSnapshot } from '../../../src/web/gate/kept/snapshot.ts';
import { arbHistory, at } from '../../support/clearance-histories.ts';

const DAYS = { from: '2026-01-01T00:00:00.000Z', until: '2027-01-01T00:00:00.000Z' };

// The same written down once more with the library that the server checks with: the two must agree on everything.
const instant = z.string().refine((text) => !Number.isNaN(Date.parse(text)));
const place = z.int().min(0);
const bar = z.strictObject({ title: z.string(), concededUntil: instant.optional(), condition: z.string().optional() });
const signOff = z.strictObject({
  decision: z.enum(['accept', 'accept-with-conditions', 'refuse']),
  note: z.string().optional(),
  validFrom: instant.optional(),
  validUntil: instant.optional(),
});
const wetTyres = z.union([
  z.strictObject({ fit: z.literal(true) }),
  z.strictObject({ fit: z.literal(false), why: z.literal('slicks') }),
  z.strictObject({ fit: z.literal(false), why: z.literal('grooves'), lowestMm: z.number(), limitMm: z.number() }),
]);
const facts = z.strictObject({
  withdrawn: z.boolean().optional(),
  declared: z.strictObject({ bars: z.array(bar), wet: wetTyres.optional() }).optional(),
  reinspect: z.string().optional(),
  signOff: signOff.optional(),
  conditions: z.array(z.strictObject({ text: z.string(), dueAt: instant.optional() })).optional(),
  holds: z.array(z.string()).optional(),
  car: z
    .strictObject({
      holds: z.array(z.strictObject({ reason: z.string(), in: z.string() })).optional(),
      refusals: z.array(z.strictObject({ note: z.string().optional(), in: z.string() })).optional(),
      recalls: z.array(z.strictObject({ reason: z.string(), in: z.string() })).optional(),
      conditions: z.array(z.strictObject({ text: z.string(), dueAt: instant.optional(), in: z.string() })).optional(),
      voidStickers: z.array(z.string()).optional(),
    })
    .optional(),
});
const rescue = z.strictObject({
  drive: z.enum(['combustion', 'hybrid', 'battery']).optional(),
  gas: z.enum(['none', 'lpg', 'cng', 'hydrogen']).optional(),
  volts: z.number().optional(),
  disconnectAt: z.string().optional(),
});
const Snapshot = z
  .strictObject({
    iss: z.string(),
    eventId: z.string(),
    name: z.string(),
    asOf: instant,
    staleAfter: instant,
    seq: place,
    head: z.string(),
    newestHold: z.strictObject({ number: place, carNumber: z.string(), reason: z.string(), at: instant }).nullable(),
    days: z.strictObject({
      from: instant,
      until: instant,
      cancelled: z.strictObject({ at: instant, reason: z.string() }).optional(),
    }),
    runGroups: z.array(z.strictObject({ runGroupId: z.string(), name: z.string(), wet: z.literal(true).optional() })),
    entries: z.array(
      z.strictObject({
        carNumber: z.string(),
        group: place,
        vehicle: z.string().optional(),
        colour: z.string().optional(),
        rescue: rescue.optional(),
        facts,
      }),
    ),
  })
  .refine(({ entries, runGroups }) => entries.every(({ group }) => group < runGroups.length));

/** Something of everything that can be wrong with a car. */
const CAR = foldCar([
  { type: 'car-held', holdId: 'h', reason: 'leak', entryId: 'e', runGroup: 'Advanced', stickers: ['17'] },
  { type: 'car-refused', signOffId: 's', note: 'hose', entryId: 'e', runGroup: 'Advanced' },
  { type: 'car-recalled', reason: 'thin pads', entryId: 'e', runGroup: 'Advanced' },
]);
const CONDITIONED = foldCar([
  {
    type: 'car-accepted',
    signOffId: 's',
    entryId: 'e',
    runGroup: 'Advanced',
    conditions: [{ id: 'c', text: 'torque', dueAt: at(12) }],
  },
]);

const arbList = fc
  .tuple(fc.array(arbHistory, { minLength: 1, maxLength: 3 }), fc.boolean())
  .map(([histories, wet]) => ({
    iss: 'gridworthy',
    eventId: 'e1',
    name: 'Club day',
    asOf: at(0),
    staleAfter: at(20),
    seq: 7,
    head: 'ab',
    newestHold: { number: 3, carNumber: '7', reason: 'contact', at: at(8) },
    days: DAYS,
    runGroups: [{ runGroupId: 'g1', name: 'Novice', ...(wet ? { wet: true } : {}) }],
    entries: histories.map((history, place) => ({
      carNumber: '7',
      group: 0,
      ...(place === 0 ? {} : { rescue: { drive: 'battery', gas: 'none', volts: 400, disconnectAt: 'in the boot' } }),
      facts: toGateFacts(foldClearance(history), place % 2 === 0 ? CAR : CONDITIONED),
    })),
  }));

/** As it travels. */
const travelled = (value: unknown): unknown => JSON.parse(JSON.stringify(value));

/** Every place in a value, as a list of names. */
function placesIn(value: unknown, here: readonly string[] = []): string[][] {
  if (typeof value !== 'object' || value === null) return [[...here]];
  return [[...here], ...Object.entries(value).flatMap(([name, inner]) => placesIn(inner, [...here, name]))];
}

const REMOVED = Symbol('removed');

function withChange(value: unknown, path: readonly string[], change: unknown): unknown {
  const [name, ...rest] = path;
  // A whole that was left out is still something: nothing cannot travel.
  if (name === undefined) return change === REMOVED ? null : change;
  const copy = structuredClone(value) as Record<string, unknown>;
  if (rest.length > 0) copy[name] = withChange(copy[name], rest, change);
  else if (change === REMOVED && !Array.isArray(copy)) delete copy[name];
  else copy[name] = change === REMOVED ? null : change;
  return copy;
}

describe('a list', () => {
  test('is understood as it is made, for whatever happened to the cars', () => {
    fc.assert(
      fc.property(arbList, (list) => {
        expect(parseSnapshot(travelled(list))).toEqual(travelled(list));
      }),
    );
  });

  test('with any one thing changed, added or left out is refused exactly where the other reading refuses it', () => {
    const odd = [
      null,
      true,
      0,
      -1,
      1.5,
      2 ** 60,
      '',
      'accept',
      at(3),
      'soon',
      [],
      {},
      { unknown: 1 },
      REMOVED,
    ] as const;
    let refused = 0;
    fc.assert(
      fc.property(arbList, fc.nat(), fc.constantFrom(...odd), fc.boolean(), (list, pick, change, adds) => {
        const places = placesIn(travelled(list));
        const path = places[pick % places.length] ?? [];
        const changed = travelled(withChange(travelled(list), adds ? [...path.slice(0, -1), 'added'] : path, change));
        const understood = Snapshot.safeParse(changed).success;
        expect(parseSnapshot(changed) !== undefined).toBe(understood);
        if (!understood) refused += 1;
      }),
      { numRuns: 1000 },
    );
    expect(refused).toBeGreaterThan(100);
  });
});
