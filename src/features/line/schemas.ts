import { z } from 'zod';
import { BASES } from '../../domain/declaration/basis.ts';
import type { ReadWith } from '../../domain/line/instruments.ts';
import { CONDITION_KINDS } from '../../domain/log/condition-due.ts';
import { DECISIONS } from '../../domain/rules/model/rule-set.ts';
import { CarNumber, Id, InstantOut, line, PlannedInstant, text } from '../../http/frame/common-schemas.ts';
import { ConcessionInForce, ConditionView, ManyConcessions } from '../../http/views/clearance-view.ts';
import {
  ChosenView,
  LastSafeView,
  NamedInstrumentView,
  PhotoRef,
  SessionView,
  ToldView,
} from '../../http/views/small-views.ts';
import { FindingView, TallyView, VerdictView } from '../../http/views/finding-view.ts';

export const Vehicle = z.string().describe('Description of the car, with its colour if known');

export const LineTicket = z.object({
  ticketId: Id,
  place: z.int().describe('1 is next'),
  entryId: Id,
  inspectionId: Id.describe('The revision that is inspected'),
  carNumber: z.string().describe('Exact text'),
  runGroupId: Id,
  runGroup: z.string().describe('Name of the run group'),
  vehicle: Vehicle,
  verdict: VerdictView,
  state: z.enum(['waiting', 'claimed']).describe('`claimed` while an inspector holds an unexpired lease'),
  claimId: Id.optional().describe('The claim that holds it'),
  claimedBy: z.string().optional().describe('Who holds it'),
  claimExpiresAt: InstantOut.optional(),
  queuedAt: InstantOut.describe('When it was put on the line'),
  concessions: z.array(ConcessionInForce).describe('Exceptions in force for this car'),
  manyConcessions: ManyConcessions,
  told: ToldView.optional(),
  notHereAt: InstantOut.optional().describe('It was called then and not there: others go first for ten minutes'),
  firstSessionAt: InstantOut.describe(
    'First session of the run group: decides the order where no time is told, then `queuedAt`',
  ),
  expectedAt: InstantOut.describe('Rough estimate of its turn'),
});
export type LineTicket = z.infer<typeof LineTicket>;

export const LineView = z
  .object({ asOf: InstantOut, tickets: z.array(LineTicket).describe('In the order in which they are called') })
  .meta({ id: 'LineView' });

export const putBackQuery = z.strictObject({
  notHere: z.enum(['true']).optional().describe('It was called and is not there: others go first for ten minutes'),
});

export const ClaimTicket = z
  .strictObject({
    carNumber: CarNumber.optional().describe('Absent: the next car'),
    runGroupId: Id.optional().describe('Which entry of a shared car; absent: the one whose turn is first'),
    leaseMinutes: z.int().min(1).max(60).optional().describe('Absent: as the server is set, 15 unless told'),
  })
  .meta({ id: 'ClaimTicket' });
export type ClaimTicket = z.infer<typeof ClaimTicket>;

export const ClaimView = z
  .object({
    claimId: Id,
    ticketId: Id,
    entryId: Id,
    inspectionId: Id,
    carNumber: z.string().describe('Exact text'),
    runGroup: z.string().describe('Name of the run group'),
    vehicle: Vehicle,
    revision: z.int().describe('Revision of the declaration'),
    verdict: VerdictView,
    tally: TallyView.describe('How many findings there are, by what they count for'),
    findings: z
      .array(FindingView)
      .describe('As declared, with the concessions of today: what is not met or not answered, in rule-set order'),
    pointsToCheck: z
      .array(
        z.object({
          item: z.string().describe('Catalogue key'),
          position: z.string().optional().describe('Where on the car'),
          label: z.string().describe('What to look at'),
          why: z.string().describe('Why it is on the list'),
          asked: z
            .enum(['refused', 'always', 'rule', 'felt', 'doubt', 'chosen', 'usual'])
            .describe(
              '`refused`: the car was refused for it, and it must be checked to accept; `always`: the group looks at it on every car, and it must be checked to accept; `rule`: a finding asks for it; `felt`: a symptom points at it; `doubt`: answers there do not go together; `chosen`: worth a look by what was found on such cars; `usual`: worth a look, not demanded',
            ),
          always: z
            .object({
              id: z.string().describe('Point of the rules; several items may belong to one'),
              title: z.string().describe('What to do'),
              seconds: z.int().describe('How long it takes'),
            })
            .optional()
            .describe('Of `always`'),
          limits: z
            .array(
              z.object({
                title: z.string().describe('What is judged'),
                unit: z.string().describe('Of the numbers here'),
                part: z.string().optional().describe('Of an answer that has parts: which one'),
                atLeast: z.number().optional().describe('The limit that it must reach'),
                atMost: z.number().optional().describe('The limit that it must not pass'),
                decision: z.enum(DECISIONS).describe('`guarded`: it must be inside by the uncertainty of the reading'),
              }),
            )
            .optional()
            .describe('Of a number: what it is held against'),
          chosen: ChosenView.optional(),
          needsValue: z.literal(true).optional().describe('A tick does not clear it: give a value'),
          ruleId: z.string().optional().describe('The finding that asks for it; it must be checked to accept'),
          declared: z.record(z.string(), z.unknown()).optional().describe('What the entrant declared'),
          basis: z
            .object({
              basis: z
                .enum(BASES)
                .describe('`lowest-of-axle`: one value, the least of the axle; `each-place`: all alike'),
              of: z.string().optional().describe('Of `same-as`: the place whose value it is'),
            })
            .optional()
            .describe('What that rests on, where it was not read at this place alone'),
          doneFor: z
            .object({
              runGroup: z.string().describe('Run group of the entry for which it was done'),
              by: z.string().describe('Who looked'),
              at: InstantOut.describe('When that entry was signed off'),
              value: z.unknown().optional().describe('What was measured; it wins over what is declared here'),
              result: z.literal('ok').optional().describe('What was seen, where nothing was measured'),
              counts: z
                .boolean()
                .describe('It need not be done again; `false`: by the rules and limits of this entry it is open'),
            })
            .optional()
            .describe('Done for another entry of the same car at this event; never for points about the driver'),
        }),
      )
      .describe(
        'What it was refused for, what is always looked at, what rules ask for, felt, doubts, chosen, the rest',
      ),
    lastSafe: LastSafeView.optional(),
    instruments: z
      .array(NamedInstrumentView)
      .describe('Of this event: one of them may be named where a value is given'),
    refusals: z
      .array(
        z.object({
          runGroup: z.string().describe('Where the car was refused'),
          note: z.string().describe('What the driver was told'),
        }),
      )
      .describe('Refusals of this car that stand, newest first'),
    photos: z.array(PhotoRef).describe('Photos of this car, oldest first'),
    concessions: z.array(ConcessionInForce).describe('Exceptions in force; what they ask for becomes a condition'),
    manyConcessions: ManyConcessions,
    sessions: z.array(SessionView).describe('When the run group is on track, in order; empty: no timetable is known'),
    leaseMinutes: z.number().describe('Length of the lease'),
    expiresAt: InstantOut.describe('Renew before this instant, or the ticket is free for others'),
    caution: z.string().describe('To be shown with it'),
  })
  .meta({ id: 'ClaimView' });
export type ClaimView = z.infer<typeof ClaimView>;

export const LeaseView = z
  .object({ claimId: Id, leaseMinutes: z.number().describe('Length of the lease'), expiresAt: InstantOut })
  .meta({ id: 'LeaseView' });

export const Check = z
  .strictObject({
    item: z.string().max(80).describe('Catalogue key'),
    position: z.string().max(40).optional().describe('Where on the car, for an item with positions'),
    value: z
      .unknown()
      .optional()
      .describe('What was measured, in the form of a declaration; it wins over the declared one'),
    readWith: z
      .strictObject({
        name: line(60).describe('An instrument of the event by its name, or another one in your own words'),
        uncertainty: z
          .number()
          .positive()
          .max(1000)
          .optional()
          .describe('Of another one: expanded uncertainty U (k = 2), in `unit`; absent: as the event says'),
        unit: z.string().max(20).optional().describe('Of `uncertainty`: a unit of what was measured'),
      })
      .refine((one) => (one.uncertainty === undefined) === (one.unit === undefined), {
        message: 'give uncertainty and unit, or neither',
        path: ['unit'],
      })
      .optional()
      .describe('What it was measured with; absent: what such values are usually read with'),
    result: z.enum(['ok', 'not-ok']).optional().describe('What was seen, where nothing is measured'),
    note: line(300).optional().describe('A remark on this point'),
  })
  .refine((check) => (check.value === undefined) !== (check.result === undefined), {
    message: 'give either value or result',
    path: ['value'],
  });
export type Check = z.infer<typeof Check>;
/** A check as it is kept: what it was read with has its uncertainty. */
export type KnownCheck = Omit<Check, 'readWith'> & { readWith?: ReadWith | undefined };

interface Decided {
  decision: 'accept' | 'accept-with-conditions' | 'refuse';
  conditions?: readonly unknown[] | undefined;
  note?: string | undefined;
  stickerNumber?: string | undefined;
  validUntil?: string | undefined;
}

function contradictions(signOff: Decided): { path: string; message: string }[] {
  const refused = signOff.decision === 'refuse';
  const given = (signOff.conditions ?? []).length > 0;
  const withConditions = signOff.decision === 'accept-with-conditions';
  const rules: [boolean, string, string][] = [
    [refused && signOff.note === undefined, 'note', 'a refusal needs a note'],
    [!refused && signOff.stickerNumber === undefined, 'stickerNumber', 'an acceptance needs a sticker number'],
    [refused && signOff.stickerNumber !== undefined, 'stickerNumber', 'a refused car gets no sticker'],
    [refused && signOff.validUntil !== undefined, 'validUntil', 'a refusal has no validity'],
    [withConditions && !given, 'conditions', 'give the conditions'],
    [!withConditions && given, 'conditions', 'only accept-with-conditions has conditions'],
  ];
  return rules.flatMap(([broken, path, message]) => (broken ? [{ path, message }] : []));
}

export const SignOff = z
  .strictObject({
    decision: z.enum(['accept', 'accept-with-conditions', 'refuse']).describe('What is decided'),
    checks: z.array(Check).max(500).describe('What was looked at and measured'),
    conditions: z
      .array(
        z.strictObject({
          text: line(200).describe('What must be done'),
          kind: z
            .enum(CONDITION_KINDS)
            .optional()
            .describe(
              'What it is about: gives it a due time, and lets the entrant settle a `torque` by writing it down. Where the rules ask for the torque too, it stands once, at the earlier time',
            ),
          dueAt: PlannedInstant.nullable()
            .optional()
            .describe(
              'Past this instant the car is held until it is done. `null`: deliberately never; absent: by its `kind` and the timetable of the group, never without a kind',
            ),
        }),
      )
      .max(20)
      .optional()
      .describe('Needed with accept-with-conditions, not possible otherwise'),
    note: text(1000).optional().describe('Needed with refuse: the driver reads it'),
    stickerNumber: z
      .string()
      .regex(/^[0-9A-Za-z-]{1,12}$/, '1 to 12 letters, digits or hyphens')
      .optional()
      .describe('Needed when the car is accepted; unique per event, whatever zeros stand before a number in it'),
    validUntil: PlannedInstant.optional().describe('An earlier end than that of the last event day'),
  })
  .superRefine((signOff, context) => {
    for (const { path, message } of contradictions(signOff))
      context.addIssue({ code: 'custom', path: [path], message });
  })
  .meta({ id: 'SignOff' });
export type SignOff = z.infer<typeof SignOff>;

export const SignOffView = z
  .object({
    signOffId: Id,
    entryId: Id,
    inspectionId: Id,
    carNumber: z.string().describe('Exact text'),
    decision: z.enum(['accept', 'accept-with-conditions', 'refuse']).describe('What was decided'),
    verdict: VerdictView.describe('After the measurements of the line'),
    tally: TallyView.describe('How many findings there are, by what they count for'),
    findings: z
      .array(FindingView)
      .describe(
        'Judged again with what was measured: what is not met or not answered, and what rests on a measurement; the decision keeps all',
      ),
    conditions: z.array(ConditionView).describe('Conditions of the acceptance'),
    note: z.string().optional().describe('What the driver reads'),
    stickerNumber: z.string().optional().describe('The sticker on the car'),
    validFrom: InstantOut.optional(),
    validUntil: InstantOut.optional().describe('Exclusive'),
    signedBy: z.string().describe('Who decided'),
    signedAt: InstantOut,
    clearance: z
      .object({ admit: z.boolean(), status: z.string(), reason: z.string() })
      .describe('What the gate says now'),
    caution: z.string().describe('To be shown with it'),
  })
  .meta({ id: 'SignOffView' });
export type SignOffView = z.infer<typeof SignOffView>;

export const claimParams = z.strictObject({ claimId: Id });
