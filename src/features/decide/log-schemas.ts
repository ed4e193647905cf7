import { z } from 'zod';
import { RawAnswers } from '../../domain/declaration/declaration.ts';
import { RENEWED_AT } from '../../domain/facts/fact.ts';
import { LOG_KINDS, SYMPTOM_NAMES } from '../../domain/log/session-log.ts';
import { Id, InstantOut, line, Page, PlannedInstant, text } from '../../http/frame/common-schemas.ts';
import { ClearanceView } from '../../http/views/clearance-view.ts';
import type { StoredLog } from './store.ts';

const Kind = z.enum(LOG_KINDS).describe('What was written down; each kind needs a field of its own');
const Temperatures = z
  .array(
    z.strictObject({
      place: line(60).describe('Where, for example "front left rotor"'),
      value: z.number().min(-100).max(2000).describe('As it was read'),
      unit: z.enum(['°C', '°F']).describe('Its unit'),
    }),
  )
  .max(40);
const Symptoms = z.array(z.enum(SYMPTOM_NAMES)).max(20);
const Renewed = z.array(z.enum(RENEWED_AT)).max(6);
const Laps = z.int().min(0).max(2000);
const BestLap = z.number().min(1).max(7200);

export const LogInput = z
  .strictObject({
    kind: Kind,
    session: line(60).optional().describe('Number or name of the session, in your own words'),
    at: PlannedInstant.optional().describe('When it was measured or noticed; absent: now. Never ahead'),
    values: RawAnswers.optional().describe(
      '`pressures`, `torque`, `pads`, `tread`: values of catalogue items, as in a declaration, with a unit where it is another',
    ),
    laps: Laps.optional().describe('`laps`: how many were driven'),
    bestLapSeconds: BestLap.optional().describe('`laps`: the quickest of them, s'),
    temperatures: Temperatures.optional().describe('`temperatures`: what was read, and where'),
    symptoms: Symptoms.optional().describe('`symptom`: what was noticed'),
    wheelsCooled: z.boolean().optional().describe('`torque`: the wheels had cooled'),
    renewed: Renewed.optional().describe('`pads`, `tread`: where new ones were fitted; these are their first values'),
    note: text(1000).optional().describe('`note`: what is to be remembered; any kind may have one'),
  })
  .meta({ id: 'LogEntry' });
export type LogInput = z.infer<typeof LogInput>;

const LogFields = {
  logId: Id,
  entryId: Id,
  kind: Kind,
  session: z.string().optional().describe('Number or name of the session'),
  at: InstantOut.describe('When it was measured or noticed'),
  values: z.record(z.string(), z.unknown()).optional().describe('As they were typed'),
  cells: z
    .record(z.string(), z.union([z.number(), z.string(), z.boolean(), z.array(z.string()).readonly()]))
    .optional()
    .describe('The same by cell, `pad.thickness@FL.in`, in the units of the catalogue'),
  laps: Laps.optional().describe('How many were driven'),
  bestLapSeconds: BestLap.optional().describe('The quickest of them, s'),
  temperatures: z
    .array(
      z.object({
        place: z.string().describe('Where'),
        value: z.number().describe('As it was read'),
        unit: z.string().describe('Its unit'),
        celsius: z.number().describe('The same in °C'),
      }),
    )
    .optional()
    .describe('What was read'),
  symptoms: z.array(z.string()).optional().describe('What was noticed'),
  wheelsCooled: z.boolean().optional().describe('The wheels had cooled'),
  renewed: Renewed.optional().describe('Where new ones were fitted'),
  note: z.string().optional().describe('What is to be remembered'),
  holdId: Id.optional().describe('The hold that it placed, or that stood already'),
  conditionId: Id.optional().describe('The condition that it closed'),
  writtenBy: z
    .object({ role: z.string().describe('Role'), name: z.string().describe('Name') })
    .describe('Who wrote it'),
  writtenAt: InstantOut,
};

export const LogEntryView = z.object(LogFields).meta({ id: 'LogEntryView' });
export type LogEntryView = z.infer<typeof LogEntryView>;

export const WrittenLog = z
  .object({
    ...LogFields,
    says: z.array(z.string()).describe('What it did, and what it did not do and why; for whoever wrote it'),
    clearance: ClearanceView.describe('What the gate says now'),
  })
  .meta({ id: 'WrittenLog' });
export type WrittenLog = z.infer<typeof WrittenLog>;

export const LogList = z
  .object({
    log: z.array(LogEntryView).describe('The newest first'),
    next: z.string().optional().describe('`cursor` of the next page; absent on the last one'),
  })
  .meta({ id: 'LogList' });

export const logQuery = z.strictObject({ ...Page });

export const LOG_EXAMPLE: LogEntryView = {
  logId: '019ab8f0-0000-7000-8000-0000000000a7',
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  kind: 'torque',
  session: '1',
  at: '2026-06-13T08:40:00.000Z',
  values: { 'wheel.torque-setting': { value: 81, unit: 'lbf·ft' } },
  cells: { 'wheel.torque-setting': 110 },
  wheelsCooled: true,
  conditionId: '019ab8f0-0000-7000-8000-0000000000c1',
  writtenBy: { role: 'entrant', name: 'Ines Haldorsen' },
  writtenAt: '2026-06-13T08:41:12.000Z',
};

/** An entry of the log as callers read it. */
export function viewLog(log: StoredLog): LogEntryView {
  const { logId, entryId, kind, session, at, content, effects, writtenRole, writtenName, writtenAt } = log;
  return {
    logId,
    entryId,
    kind,
    ...(session === null ? {} : { session }),
    at: at.toISOString(),
    ...content,
    ...effects,
    writtenBy: { role: writtenRole, name: writtenName },
    writtenAt: writtenAt.toISOString(),
  };
}
