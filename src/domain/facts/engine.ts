import { engineOilHotGrade } from '../trade/fluids/engine-oil-grade.ts';
import { oilLevelSays } from '../trade/fluids/oil-level.ts';
import { type Fact, type FactInput, numberAt, textAt } from './fact.ts';

function readingValid(input: FactInput): boolean | undefined {
  const reading = numberAt(input, 'oil.level.reading');
  const hot = input.answer('oil.level.at-operating-temperature');
  // only a car that is known to have a dry sump is read without waiting
  const sump: 'dry' | 'wet' = input.vehicle.sump === 'dry' ? 'dry' : 'wet';
  const minutes = sump === 'dry' ? undefined : numberAt(input, 'oil.level.minutes-since-shutdown');
  const isKnown = reading !== undefined && typeof hot === 'boolean' && (sump === 'dry' || minutes !== undefined);
  if (!isKnown) return undefined;
  const level = {
    reading,
    atOperatingTemperature: hot,
    sump,
    ...(minutes !== undefined && { minutesSinceShutdown: minutes }),
  };
  return oilLevelSays(level) !== 'read-again';
}

function hotGrade(input: FactInput): number | undefined {
  const grade = textAt(input, 'oil.grade');
  if (grade === undefined) return undefined;
  return input.need(engineOilHotGrade(grade), 'The oil grade has no hot side that SAE J300 knows');
}

/** What is said about engine oil. */
export const ENGINE_FACTS = {
  oilReadingValid: {
    type: { kind: 'bool' },
    meaning: 'whether the oil level was read hot and 5 to 10 minutes after shutdown (dry sump: hot)',
    source: 'oil-level: common practice',
    items: ['oil.level.reading', 'oil.level.at-operating-temperature', 'oil.level.minutes-since-shutdown'],
    compute: readingValid,
  },
  oilGradeHot: {
    type: { kind: 'double', decimals: 0 },
    meaning: 'the hot grade of the engine oil: 50 of 15W-50',
    source: 'engine-oil-grade: SAE J300, January 2015',
    items: ['oil.grade'],
    compute: hotGrade,
  },
} as const satisfies Readonly<Record<string, Fact>>;
