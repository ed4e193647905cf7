import { z } from 'zod';
import { CAUTIONS } from '../cautions.ts';
import { roundTo } from '../quantity.ts';
import { calculation, measure, notComputable, type Worked, type WorkStep } from '../trade/calculation.ts';
import { lastSafeSession, WEAR_HABITS, wearBand } from './wear-band.ts';

const mm = (what: string) => measure('mm', what, { min: 0, max: 60 });

const Part = z.strictObject({
  name: z.string().trim().min(1).max(80).describe('For example front left inner pad'),
  kind: z.enum(['pad', 'tread', 'rotor']).describe('What wears: lining, tread or rotor'),
  readings: z
    .array(
      z.strictObject({
        sessions: z.number().min(0).max(2000).describe('Sessions driven on this part by then, counted on'),
        thicknessMm: mm('What was read'),
      }),
    )
    .min(1)
    .max(60)
    .describe('Readings of this part, oldest first; one is enough, more make the band narrow'),
  limitMm: mm('Less than this must never be left'),
});

const LastSafeInput = z.strictObject({
  parts: z.array(Part).min(1).max(40).describe('Parts that wear'),
  sessionsToCome: z.int().min(1).max(60).describe('Sessions of the event that are still to come'),
});
type LastSafeInput = z.infer<typeof LastSafeInput>;

const LastSafeResult = z.strictObject({
  firstToEnd: z.string().describe('The part that ends first'),
  safeSessions: z.int().describe('Sessions that all parts last with a chance of 95 %, at most 60'),
  lastsTheEvent: z.boolean(),
  parts: z.array(
    z.strictObject({
      name: z.string().describe('As it was given'),
      safeSessions: z.int().describe('Sessions it lasts with a chance of 95 %, at most 60; 0: perhaps not the next'),
      atEnd: z
        .strictObject({ low: z.number(), middle: z.number(), high: z.number() })
        .describe('What will be left after the sessions to come, mm; 90 of 100 lie from low to high'),
    }),
  ),
});
type LastSafeResult = z.infer<typeof LastSafeResult>;

/**
 * How many sessions pads, tyres and rotors of this car last, with a band from its own readings.
 *
 * @see `wearBand`
 */
export const LAST_SAFE_SESSION = calculation<LastSafeInput, LastSafeResult>({
  name: 'last-safe-session',
  title: 'Last safe session',
  summary:
    'From readings of parts that wear: which ends first, after how many sessions, and what will be left at the end, with a band of 90 %.',
  input: LastSafeInput,
  result: LastSafeResult,
  sources: [
    {
      title: 'Bayes over the wear rate, a walk with drift read with errors: textbook of statistics',
      standing: 'secondary',
    },
    { title: 'Wear per session of such parts and its spread, before this car is known', standing: 'common-practice' },
  ],
  example: {
    parts: [
      {
        name: 'front left inner pad',
        kind: 'pad',
        readings: [
          { sessions: 0, thicknessMm: 9.8 },
          { sessions: 4, thicknessMm: 8.4 },
          { sessions: 8, thicknessMm: 7.1 },
          { sessions: 10, thicknessMm: 6.3 },
        ],
        limitMm: 4,
      },
    ],
    sessionsToCome: 8,
  },
  compute,
});

function compute({ parts, sessionsToCome }: LastSafeInput): Worked<LastSafeResult> {
  for (const [at, part] of parts.entries()) assertOrder(part, `/parts/${at}/readings`);
  const outlooks = parts.map(({ name, kind, readings, limitMm }) => {
    const read = readings.map(({ sessions, thicknessMm }) => ({ sessions, mm: thicknessMm }));
    const { low, middle, high } = wearBand(read, sessionsToCome, WEAR_HABITS[kind]);
    const tenths = kind === 'rotor' ? 2 : 1;
    const atEnd = { low: roundTo(low, tenths), middle: roundTo(middle, tenths), high: roundTo(high, tenths) };
    return { name, safeSessions: lastSafeSession(read, limitMm, WEAR_HABITS[kind]), atEnd, limitMm };
  });
  const first = outlooks.reduce((one, other) => (other.safeSessions < one.safeSessions ? other : one));
  return {
    result: {
      firstToEnd: first.name,
      safeSessions: first.safeSessions,
      lastsTheEvent: first.safeSessions >= sessionsToCome,
      parts: outlooks.map(({ name, safeSessions, atEnd }) => ({ name, safeSessions, atEnd })),
    },
    steps: outlooks.map(
      ({ name, atEnd, limitMm, safeSessions }): WorkStep => ({
        what: `What is left of ${name} after ${sessionsToCome} sessions`,
        formula: 'what is left now − rate · sessions, over all rates that the readings allow',
        numbers: `90 of 100 from ${atEnd.low} to ${atEnd.high} mm, limit ${limitMm} mm`,
        result: `${safeSessions} sessions with a chance of 95 %`,
      }),
    ),
    assumptions: Object.entries(WEAR_HABITS).map(([kind, { middleMm, within, reading }]) => ({
      name: kind,
      value: `about ${middleMm} mm a session before this car is known, ±${within * 200} % from session to session, read to ±${2 * reading} mm`,
      standing: 'common-practice',
    })),
    cautions: [
      'A forecast from the past: another track, driver or compound wears differently. Look between sessions.',
      CAUTIONS.general.text,
    ],
  };
}

function assertOrder({ readings }: z.infer<typeof Part>, at: string): void {
  for (const [i, { sessions }] of readings.entries()) {
    const before = readings[i - 1]?.sessions;
    if (before !== undefined && sessions <= before)
      throw notComputable(
        `${at}/${i}/sessions`,
        'out-of-order',
        `sessions count up: ${sessions} does not come after ${before}`,
      );
  }
}
