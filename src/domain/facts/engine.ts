import { engineOilHotGrade } from '../trade/fluids/engine-oil-grade.ts';
import { oilLevelSays, type OilLevelWindow } from '../trade/fluids/oil-level.ts';
import type { Vehicle } from '../vehicle.ts';
import { type Fact, type FactInput, numberAt, textAt } from './fact.ts';

const MINUTES = 'oil.level.minutes-since-shutdown';

/** Only a car that is known to have a dry sump, or a display, is read without waiting. */
const isUntimed = ({ sump, oilLevelMethod }: Vehicle): boolean => sump === 'dry' || oilLevelMethod === 'electronic';

/** What the maker says, where the record has both ends. */
function ownWindow({ oilReadFromMinutes, oilReadToMinutes }: Vehicle): OilLevelWindow | undefined {
  if (oilReadFromMinutes === undefined || oilReadToMinutes === undefined) return undefined;
  return { fromMinutes: oilReadFromMinutes, toMinutes: oilReadToMinutes };
}

function readingValid(input: FactInput): boolean | undefined {
  const reading = numberAt(input, 'oil.level.reading');
  const hot = input.answer('oil.level.at-operating-temperature');
  const sump = isUntimed(input.vehicle) ? 'dry' : 'wet';
  const minutes = sump === 'dry' ? undefined : numberAt(input, MINUTES);
  const isKnown = reading !== undefined && typeof hot === 'boolean' && (sump === 'dry' || minutes !== undefined);
  if (!isKnown) return undefined;
  const level = {
    reading,
    atOperatingTemperature: hot,
    sump,
    ...(minutes !== undefined && { minutesSinceShutdown: minutes }),
  } as const;
  return oilLevelSays(level, ownWindow(input.vehicle)) !== 'read-again';
}

function readInOwnWindow(input: FactInput): boolean | undefined {
  const window = ownWindow(input.vehicle);
  if (window === undefined) return undefined;
  const minutes = numberAt(input, MINUTES);
  if (minutes === undefined) return undefined;
  return minutes >= window.fromMinutes && minutes <= window.toMinutes;
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
    meaning:
      'whether the oil level was read hot, and after shutdown as the record of the car says, else 5 to 10 minutes (dry sump or display: hot)',
    source: 'oil-level: common practice',
    items: ['oil.level.reading', 'oil.level.at-operating-temperature', 'oil.level.minutes-since-shutdown'],
    compute: readingValid,
  },
  oilReadInOwnWindow: {
    type: { kind: 'bool' },
    meaning: 'whether the oil level was read in the time after shutdown that the record of the car states',
    source: 'oil-level: the window of the car’s maker',
    items: [MINUTES],
    compute: readInOwnWindow,
  },
  oilGradeHot: {
    type: { kind: 'double', decimals: 0 },
    meaning: 'the hot grade of the engine oil: 50 of 15W-50',
    source: 'engine-oil-grade: SAE J300, January 2015',
    items: ['oil.grade'],
    compute: hotGrade,
  },
} as const satisfies Readonly<Record<string, Fact>>;
