import { roundTo, standardFromLimitOfError } from '../quantity.ts';
import type { Uncertainty } from './item.ts';

/** U (k = 2) of an instrument whose limit of error is known and nothing else: twice MPE / √3. */
const fromLimitOfError = (limitOfError: number, decimals: number): number =>
  roundTo(2 * standardFromLimitOfError(limitOfError), decimals);

/** What people read such values with, and how far a reading may be off. Rounded to the decimals of the items. */
export const READ_WITH = {
  padGauge: {
    expanded: fromLimitOfError(0.5, 1),
    instrument: 'pad gauge in steps of 1 mm',
    source: 'derived: half a step as limit of error, rectangular',
  },
  treadGauge: {
    expanded: 0.2,
    instrument: 'tread depth gauge',
    source: 'derived: resolution 0.1, zero 0.05, operator 0.1 mm; published spreads go from 0.05 to 1 mm',
  },
  vernier: {
    expanded: fromLimitOfError(0.05, 2),
    instrument: 'vernier calliper',
    source: 'limit of error 50 µm, DIN 862 (secondary), rectangular',
  },
  vernierInside: {
    expanded: fromLimitOfError(0.07, 2),
    instrument: 'vernier calliper, inside',
    source: 'limit of error 50 µm and 20 µm more for inside measurements, DIN 862 (secondary), rectangular',
  },
  rule: {
    expanded: fromLimitOfError(0.5, 1),
    instrument: 'steel rule in steps of 1 mm',
    source: 'derived: half a step as limit of error, rectangular',
  },
  dialIndicator: {
    expanded: fromLimitOfError(0.05, 3),
    instrument: 'dial indicator on a stand',
    source: 'from memory: 0.01 mm of the indicator, the rest is its stand; rectangular',
  },
  soundMeter: {
    expanded: fromLimitOfError(1, 1),
    instrument: 'sound level meter of class 2',
    source: 'limit of error 1.0 dB at 1 kHz, IEC 61672-1 (secondary), rectangular',
  },
  boilTester: {
    expanded: fromLimitOfError(2.8, 0),
    instrument: 'boiling point tester',
    source: 'limit of error 5 °F as stated for a refractometer (secondary), rectangular',
  },
} as const satisfies Record<string, Uncertainty>;
