import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { findItem } from '../../../../../src/domain/catalogue/catalogue.ts';
import { POSITION_KEYS } from '../../../../../src/domain/catalogue/item.ts';
import { NotComputable } from '../../../../../src/domain/trade/calculation.ts';
import {
  pointsForSymptoms,
  SYMPTOM_TRIAGE,
  URGENCIES,
  urgencyOf,
} from '../../../../../src/domain/trade/line/symptom-triage.ts';
import { SYMPTOMS } from '../../../../../src/domain/trade/line/symptom-triage-table.ts';

const NAMES = Object.keys(SYMPTOMS);
const asked = (): readonly string[] => {
  const answer = findItem('debrief.symptoms')?.answer;
  return answer?.kind === 'choices' ? answer.options : [];
};

// What to look at for which symptom is common practice, no source; here the table is held against the catalogue.
describe('the table of symptoms', () => {
  it('answers every symptom that is asked, and no other', () => {
    expect([...NAMES].sort()).toEqual([...asked()].sort());
    expect(NAMES.length).toBeGreaterThanOrEqual(14);
  });

  it.each(Object.entries(SYMPTOMS))('names items and positions of the catalogue for %s', (_, { points }) => {
    expect(points.length).toBeGreaterThan(1);
    for (const { item, positions, why } of points) {
      const found = findItem(item);
      expect([item, found?.key]).toEqual([item, item]);
      expect(why.length).toBeGreaterThan(5);
      const known: readonly string[] = found?.positions === undefined ? [] : POSITION_KEYS[found.positions];
      expect((positions ?? []).filter((position) => !known.includes(position))).toEqual([]);
    }
  });
});

describe('pointsForSymptoms', () => {
  it('begins with what the symptom most often is', () => {
    const first = (symptom: string) => pointsForSymptoms([symptom])[0]?.item;
    expect(['wanders', 'knock-over-kerbs', 'smell-of-fuel', 'oil-pressure-drops-in-corners'].map(first)).toEqual([
      'wheel-play.nine-three',
      'damper.mount-play',
      'fuel.cap-and-lines',
      'oil.level.reading',
    ]);
  });

  it('puts what can stop the car before all else, and then what several symptoms point at', () => {
    const items = pointsForSymptoms(['wanders', 'smell-of-fuel', 'knock-over-kerbs']).map(({ item }) => item);
    expect(items[0]).toBe('fuel.cap-and-lines');
    expect(items.indexOf('bushing.condition')).toBeLessThan(items.indexOf('steering.free-play'));
  });

  // common practice, no source: a rear wheel that steers itself is play before it is tyres
  it('looks for play in the rear toe links first where the rear stepped out', () => {
    const [first, second] = pointsForSymptoms(['steps-out-under-power']);
    expect(first).toMatchObject({ item: 'wheel-play.nine-three', positions: ['RL', 'RR'], urgency: 'look' });
    expect(second).toMatchObject({ item: 'wheel-play.twelve-six', positions: ['RL', 'RR'] });
  });

  it('joins positions: all of them as soon as one reason has no place', () => {
    const at = (symptoms: string[], item: string) => pointsForSymptoms(symptoms).find((point) => point.item === item);
    expect(at(['pulls-under-braking'], 'tyre.cold-pressure')?.positions).toEqual(['FL', 'FR']);
    expect(at(['pulls-under-braking', 'wanders'], 'tyre.cold-pressure')?.positions).toEqual([]);
    expect(at(['wanders'], 'wheel-play.nine-three')?.positions).toEqual(['FL', 'FR', 'RL', 'RR']);
  });

  it('names each item once, whatever the order, and loses none', () => {
    fc.assert(
      fc.property(fc.shuffledSubarray(NAMES), (symptoms) => {
        const points = pointsForSymptoms(symptoms);
        const items = points.map(({ item }) => item);
        const wanted = new Set(symptoms.flatMap((name) => SYMPTOMS[name]?.points.map(({ item }) => item) ?? []));
        expect(new Set(items)).toEqual(wanted);
        expect(items.length).toBe(wanted.size);
        expect(pointsForSymptoms([...symptoms, ...symptoms].reverse())).toEqual(points);
        const order = points.map(({ urgency }) => URGENCIES.indexOf(urgency));
        expect(order).toEqual([...order].sort((a, b) => a - b));
      }),
    );
  });

  it('refuses what is not a symptom, with its place', () => {
    const run = (): unknown => pointsForSymptoms(['wanders', 'toString', 'sings']);
    expect(run).toThrow(NotComputable);
    expect(run).toThrow(/\/symptoms\/1: .*\/symptoms\/2: /u);
    expect(pointsForSymptoms([])).toEqual([]);
    expect(urgencyOf([])).toBeUndefined();
  });
});

describe('symptom-triage', () => {
  it('works its example, with the cautions of what it sends people to', () => {
    const { result, cautions } = SYMPTOM_TRIAGE.compute(SYMPTOM_TRIAGE.input.parse(SYMPTOM_TRIAGE.example));
    expect(result.urgency).toBe('stop');
    expect(result.points[0]).toMatchObject({ urgency: 'stop' });
    expect(cautions.some((text) => text.includes('jack'))).toBe(true);
  });
});
