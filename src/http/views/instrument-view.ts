import { z } from 'zod';
import { READS_NAMES } from '../../domain/line/instruments.ts';
import { line } from '../frame/common-schemas.ts';

/** An instrument of the organizer's own with how good it is, as it is set and as it is read. */
export const NamedInstrumentView = z
  .strictObject({
    name: line(60).describe('What stands on it; one of its name for each thing that is read'),
    reads: z.enum(READS_NAMES).describe('What it reads'),
    uncertainty: z.number().positive().max(1000).describe('Expanded uncertainty U (k = 2), in `unit`'),
    unit: z.string().max(20).describe('A unit of what it reads: `mm`, `°C`, `N·m`'),
    source: line(200).optional().describe('Where U is from: a certificate and its date'),
  })
  .meta({ id: 'NamedInstrument' });

export const Instruments = z
  .array(NamedInstrumentView)
  .max(60)
  .describe('Instruments of the line by name, with how good they are; a value without one is judged by the usual');
