import { z } from 'zod';
import { CAUTIONS } from '../../cautions.ts';
import { roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, type Source } from '../calculation.ts';

/** An engine oil level as read. */
export interface OilLevelReading {
  /** fraction of the band between the marks: 0 lower mark, 1 upper mark; may be outside */
  reading: number;
  atOperatingTemperature?: boolean;
  /** minutes between stopping the engine and reading; not asked of a dry sump */
  minutesSinceShutdown?: number;
  sump: 'wet' | 'dry';
}

export const OIL_LEVEL_DOUBTS = ['temperature-unknown', 'not-hot', 'time-unknown', 'too-soon', 'too-late'] as const;
export type OilLevelDoubt = (typeof OIL_LEVEL_DOUBTS)[number];

export const OIL_LEVEL_SAYINGS = ['read-again', 'overfilled', 'below-minimum', 'low-when-hot', 'ok'] as const;
export type OilLevelSaying = (typeof OIL_LEVEL_SAYINGS)[number];

/** Minutes after stopping, both included, in which a wet sump is read: drained back and not yet cooled. */
export interface OilLevelWindow {
  fromMinutes: number;
  toMinutes: number;
}

/** Common practice, no source. */
export const OIL_LEVEL_WINDOW: OilLevelWindow = { fromMinutes: 5, toMinutes: 10 };
const HALF = 0.5;

/**
 * Why a reading cannot be judged; empty when it can. A wet sump is read at operating temperature 5 to 10 minutes after
 * shutdown, a dry-sump tank at operating temperature the way its maker says. What is not known counts against it.
 * Never throws.
 *
 * @see common practice, no source
 */
export function findOilLevelDoubts(level: OilLevelReading, window = OIL_LEVEL_WINDOW): OilLevelDoubt[] {
  const doubts: OilLevelDoubt[] = [];
  if (level.atOperatingTemperature === undefined) doubts.push('temperature-unknown');
  if (level.atOperatingTemperature === false) doubts.push('not-hot');
  if (level.sump === 'dry') return doubts;
  const minutes = level.minutesSinceShutdown;
  if (minutes === undefined) doubts.push('time-unknown');
  else if (minutes < window.fromMinutes) doubts.push('too-soon');
  else if (minutes > window.toMinutes) doubts.push('too-late');
  return doubts;
}

/**
 * What an oil level says: `read-again` when the reading cannot be judged, else above the upper mark, below the lower
 * mark, in the lower half although fully hot, or ok. A street-warm engine reads lower. Never throws. The reading is a
 * share of the way between the marks.
 *
 * @see common practice, no source
 */
export function oilLevelSays(level: OilLevelReading, window = OIL_LEVEL_WINDOW): OilLevelSaying {
  // also catches NaN, which compares false with everything
  if (!Number.isFinite(level.reading) || findOilLevelDoubts(level, window).length > 0) return 'read-again';
  if (level.reading > 1) return 'overfilled';
  if (level.reading < 0) return 'below-minimum';
  return level.reading < HALF ? 'low-when-hot' : 'ok';
}

const SOURCES: readonly Source[] = [
  { title: 'Reading engine oil hot, 5 to 10 minutes after shutdown, on level ground', standing: 'common-practice' },
];

const DAY = { min: 0, max: 1440 };
const input = z.strictObject({
  reading: z.number().min(-2).max(4).describe('Fraction of the band between the marks: 0 lower mark, 1 upper mark'),
  atOperatingTemperature: z.boolean().describe('The oil was fully warm').optional(),
  minutesSinceShutdown: measure('min', 'Time between stopping the engine and reading', DAY).optional(),
  sump: z.enum(['wet', 'dry']).describe('Engine oil system').default('wet'),
  bandLitres: measure('l', 'Oil between the two marks', { min: 0.1, max: 10 }).optional(),
  fromMinutes: measure('min', 'Earliest time after shutdown to read; 5 where not given', DAY).optional(),
  toMinutes: measure('min', 'Latest time after shutdown to read; 10 where not given', DAY).optional(),
});
type Input = z.infer<typeof input>;

const result = z.object({
  valid: z.boolean().describe('The reading can be judged'),
  doubts: z.array(z.enum(OIL_LEVEL_DOUBTS)).describe('Why it cannot'),
  says: z.enum(OIL_LEVEL_SAYINGS).describe('What the level says'),
  litresToUpperMark: z
    .number()
    .nullable()
    .describe('Oil to add up to the upper mark, l, negative to drain; null without the band or with doubts'),
});

function readWindow({ fromMinutes, toMinutes }: Input): { window: OilLevelWindow; assumptions: Assumption[] } {
  const window = {
    fromMinutes: fromMinutes ?? OIL_LEVEL_WINDOW.fromMinutes,
    toMinutes: toMinutes ?? OIL_LEVEL_WINDOW.toMinutes,
  };
  if (window.fromMinutes > window.toMinutes) {
    const detail = `${window.fromMinutes} min is after the latest time of ${window.toMinutes} min.`;
    throw notComputable('/fromMinutes', 'window-crossed', detail);
  }
  const assumptions: Assumption[] = [];
  if (fromMinutes === undefined) assumptions.push({ name: 'fromMinutes', value: '5 min', standing: 'common-practice' });
  if (toMinutes === undefined) assumptions.push({ name: 'toMinutes', value: '10 min', standing: 'common-practice' });
  return { window, assumptions };
}

/** Whether an engine oil level was read at the right time, and what it says. */
export const OIL_LEVEL = calculation({
  name: 'oil-level',
  title: 'Engine oil level',
  summary: 'Whether the level was read hot and at the right time after shutdown, what it says, and how much to add.',
  input,
  result,
  sources: SOURCES,
  example: { reading: 0.4, atOperatingTemperature: true, minutesSinceShutdown: 7, bandLitres: 1.5 },
  compute(asked) {
    const { window, assumptions } = readWindow(asked);
    const doubts = findOilLevelDoubts(asked, window);
    const readable = doubts.length === 0;
    const litres =
      readable && asked.bandLitres !== undefined ? roundTo((1 - asked.reading) * asked.bandLitres, 2) : null;
    const says = oilLevelSays(asked, window);
    return {
      result: { valid: readable, doubts, says, litresToUpperMark: litres },
      steps: [
        {
          what: 'can the reading be judged',
          formula:
            asked.sump === 'dry'
              ? 'at operating temperature'
              : `at operating temperature, ${window.fromMinutes} to ${window.toMinutes} min after shutdown`,
          numbers: `hot: ${asked.atOperatingTemperature ?? 'unknown'}, ${asked.minutesSinceShutdown ?? 'unknown'} min`,
          result: readable ? 'yes' : `no: ${doubts.join(', ')}`,
        },
        {
          what: 'level',
          formula: '0 to 1 is the band; below 0.5 is low when hot',
          numbers: `${asked.reading}`,
          result: says,
        },
        ...(litres === null ? [] : [litresStep(asked, litres)]),
      ],
      assumptions: asked.sump === 'dry' ? [DRY_SUMP] : assumptions,
      cautions: [CAUTIONS['hot-parts'].text],
    };
  },
});

const DRY_SUMP: Assumption = {
  name: 'dry sump',
  value: 'read the way its maker says (often with the engine running); no time after shutdown is asked',
  standing: 'common-practice',
};

const litresStep = ({ reading, bandLitres }: Input, litres: number) => ({
  what: 'oil to the upper mark',
  formula: '(1 − level)·band',
  numbers: `(1 − ${reading})·${bandLitres} l`,
  result: `${litres} l`,
});
