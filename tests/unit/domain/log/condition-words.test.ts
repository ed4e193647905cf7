import { describe, expect, test } from 'vitest';
import { conditionIn, dailyRecheckText, TORQUE_RECHECK_TEXT } from '../../../../src/domain/log/condition-words.ts';

// our own words, no source
describe('what the rules ask for again', () => {
  const daily = dailyRecheckText('2026-06-14', ['tyres', 'nuts', 'rear wing']);

  test('is kept in English', () => {
    expect(daily).toBe(
      'Shown to the line again before the first session of 2026-06-14: tyres (cuts, cords, cold pressures); ' +
        'wheel nuts (at the maker’s torque); rear wing',
    );
    expect(conditionIn(daily, 'en')).toBe(daily);
  });

  test('is said in German, but for the words of the organizer', () => {
    expect(conditionIn(daily, 'de')).toBe(
      'Vor der ersten Fahrt am 14.6. der Abnahme wieder zeigen: Reifen (Schnitte, Gewebe, kalter Druck); ' +
        'Radmuttern (mit dem Drehmoment des Herstellers); rear wing',
    );
    expect(conditionIn(TORQUE_RECHECK_TEXT, 'de')).toMatch(/^Drehmoment der Räder/);
    expect(conditionIn('Look at the oil weep again', 'de')).toBe('Look at the oil weep again');
    expect(conditionIn(TORQUE_RECHECK_TEXT, 'fr')).toBe(TORQUE_RECHECK_TEXT);
  });
});
