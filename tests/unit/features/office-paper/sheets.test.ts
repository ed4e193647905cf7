import { describe, expect, test } from 'vitest';
import { NOTHING_WRONG } from '../../../../src/domain/clearance/car-happenings.ts';
import { foldClearance } from '../../../../src/domain/clearance/clearance.ts';
import { decideClearance } from '../../../../src/domain/clearance/decide-clearance.ts';
import type { Vehicle } from '../../../../src/domain/vehicle.ts';
import { countGroups, gateBlocks, rescueBlocks } from '../../../../src/features/office/paper/event-sheets.ts';
import { sayIn, timesAt } from '../../../../src/features/office/paper/sheet.ts';
import type { EntryOfSheet } from '../../../../src/features/office/paper/store.ts';
import de from '../../../../src/features/office/paper/text/de.json' with { type: 'json' };
import en from '../../../../src/features/office/paper/text/en.json' with { type: 'json' };
import { alone, arbHistory, arbInstant, at } from '../../../support/clearance-histories.ts';
import fc from 'fast-check';

const NOW = new Date('2026-06-13T08:00:00.000Z');
const DAYS = { from: new Date('2026-06-12T22:00:00.000Z'), until: new Date('2026-06-14T22:00:00.000Z') };
const writing = (language = 'en') => ({ say: sayIn(language), times: timesAt(language, 'Europe/Berlin'), now: NOW });

function entryOf(carNumber: string, vehicle: Partial<Vehicle>, facts = foldClearance([])): EntryOfSheet {
  return {
    carNumber,
    runGroup: 'Novice',
    entrant: 'Somebody',
    people: [],
    vehicle: { description: 'Coupe', ...vehicle },
    facts,
    carFacts: NOTHING_WRONG,
    state: { facts, car: NOTHING_WRONG, runGroup: 'Novice', days: DAYS, wet: false },
    sticker: null,
  };
}

test('the texts of both languages have the same names and the same places for values', () => {
  const german: Readonly<Record<string, string>> = de;
  const places = (text = '') => [...text.matchAll(/\{\w+\}/g)].map(([one]) => one).toSorted();
  expect(Object.keys(german)).toEqual(Object.keys(en));
  for (const [name, text] of Object.entries(en)) {
    expect(german[name], name).toBeTruthy();
    expect(places(german[name]), name).toEqual(places(text));
  }
});

describe('what the gate says, on a German sheet', () => {
  const german = timesAt('de', 'Europe/Berlin');
  /** Words of our own sentences, which stand in none that a person wrote in these histories. */
  const english = /\b(?:the|held|barred|waiting|refused|must|no|wet track|declaration|event|sign-off|more|due)\b/iu;

  test('has no English sentence of ours in it, whatever happened to the car', () => {
    const seen = new Set<string>();
    fc.assert(
      fc.property(arbHistory, arbInstant, fc.boolean(), (history, now, wet) => {
        const { admit, status, reason } = decideClearance({ ...alone(foldClearance(history)), wet }, now);
        if (admit) return;
        seen.add(status);
        expect(german.within(reason)).not.toMatch(english);
      }),
      { numRuns: 2000 },
    );
    expect(seen.size).toBeGreaterThanOrEqual(7);
  });

  test('keeps what a person wrote, and says where and how much', () => {
    expect(german.within('Held: driver, late. Held in Novice: oil leak; and 2 more. And 1 more.')).toBe(
      'Angehalten: driver, late. Angehalten in Novice: oil leak; und 2 weitere. Und 1 weitere.',
    );
    expect(german.within('The event ended at 2026-06-13T16:00:00.000Z.')).toBe(
      'Die Veranstaltung endete am 13. Juni, 18:00.',
    );
    expect(timesAt('en', 'Europe/Berlin').within('Held: late.')).toBe('Held: late.');
  });
});

describe('the rescue sheet', () => {
  const entries = [
    entryOf('7', { powertrain: 'combustion', gas: 'none' }),
    entryOf('8', { powertrain: 'battery', gas: 'none', colour: 'lime', highVoltageV: 400, disconnectAt: 'front lid' }),
    entryOf('8', { powertrain: 'battery', gas: 'none', colour: 'lime', highVoltageV: 400, disconnectAt: 'front lid' }),
    entryOf('9', { powertrain: 'combustion', gas: 'cng' }),
    entryOf('10', {}),
  ];
  const [special, unknown] = rescueBlocks(entries, writing());

  test('names number, colour, what the car carries and the place of its disconnect, a shared car once', () => {
    expect(special?.rows).toEqual([
      ['8', 'lime', 'Coupe', 'battery car: high voltage, 400 V', 'front lid'],
      ['9', '–', 'Coupe', 'CNG tank under high pressure', 'not stated: treat as live'],
    ]);
  });

  test('names cars of which nobody said what they are, and no petrol car', () => {
    expect(unknown?.lines.join(' ')).toContain('10 (Coupe)');
    expect(JSON.stringify([special, unknown])).not.toContain('"7');
  });
});

describe('the gate list', () => {
  test('says go only for a car that is admitted, in either language, whatever happened to it', () => {
    const seen = new Set<string>();
    fc.assert(
      fc.property(arbHistory, fc.nat(20), (history, hour) => {
        const entry = entryOf('7', {}, foldClearance(history));
        const late = { ...writing(), now: new Date(at(hour)) };
        const state = { ...entry.state, days: { from: new Date(0), until: new Date(4e12) } };
        const [row] = gateBlocks([{ ...entry, state }], late)[0]?.rows ?? [];
        seen.add(row?.[3] ?? '');
        const { signOff, withdrawn, holds } = entry.facts;
        const mayBe = signOff !== undefined && signOff.decision !== 'refuse' && !withdrawn && holds.length === 0;
        if (!mayBe) expect(row?.[3]).toBe('NO');
      }),
      { numRuns: 500 },
    );
    expect(seen.has('NO')).toBe(true);
    expect([...seen].some((answer) => answer.startsWith('GO'))).toBe(true);
  });
});

test('the counts of the day add up to the entries of each group, whatever happened', () => {
  fc.assert(
    fc.property(fc.array(arbHistory, { minLength: 1, maxLength: 8 }), (histories) => {
      const entries = histories.map((history, place) => entryOf(String(place), {}, foldClearance(history)));
      const counts = countGroups(entries).get('Novice');
      const { entered, held, ...places } = counts ?? { entered: 0, held: 0 };
      expect(entered).toBe(histories.length);
      expect(Object.values(places).reduce((sum, one) => sum + one, 0)).toBe(entered);
      expect(held).toBe(entries.filter(({ facts }) => facts.holds.length > 0).length);
    }),
  );
});
