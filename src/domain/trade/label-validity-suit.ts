import { z } from 'zod';
import { roundTo } from '../quantity.ts';
import { calculation, refuse } from './calculation.ts';

/**
 * Seconds to a second-degree burn of a suit, from its thermal protective performance in cal/cm²: half of it, by the
 * heat flux of 2 cal/cm²·s of the test (the flux is from memory).
 *
 * @throws TradeRefusal `/thermalProtectivePerformance` not above 0
 * @see SFI 3.2A, secondary source: TPP divided by 2 is about the seconds to a second-degree burn
 */
export function secondsToBurn(thermalProtectivePerformance: number): number {
  if (!(thermalProtectivePerformance > 0)) {
    throw refuse('/thermalProtectivePerformance', 'not-positive', 'A rating is above 0.');
  }
  return thermalProtectivePerformance / 2;
}

const Input = z.strictObject({
  thermalProtectivePerformance: z.number().min(0.1).max(200).describe('TPP of the suit, cal/cm²'),
});

const Result = z.object({
  secondsToBurn: z.number().describe('Time to a second-degree burn in the test flame, s'),
});

/** `suit-protection`: seconds to a second-degree burn from the rating of a suit. */
export const SUIT_PROTECTION = calculation({
  name: 'suit-protection',
  title: 'How long a suit protects',
  summary: 'Seconds to a second-degree burn from the thermal protective performance (TPP) of a suit.',
  input: Input,
  result: Result,
  sources: [{ title: 'SFI 3.2A: TPP divided by 2, secondary source', standing: 'secondary' }],
  example: { thermalProtectivePerformance: 19 },
  compute({ thermalProtectivePerformance: rating }) {
    const seconds = secondsToBurn(rating);
    return {
      result: { secondsToBurn: roundTo(seconds, 1) },
      steps: [
        { what: 'Time to burn', formula: 't = TPP / 2', numbers: `${rating} / 2`, result: `${roundTo(seconds, 1)} s` },
      ],
      assumptions: [{ name: 'Heat flux', value: '2 cal/cm²·s, as in the test', standing: 'from-memory' }],
      cautions: ['Underwear, gloves and shoes of the same kind belong to it; a fire on track is not the test flame.'],
    };
  },
});
