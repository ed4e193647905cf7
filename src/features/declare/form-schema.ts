import { z } from 'zod';
import { GENERAL_CAUTION } from '../../domain/cautions.ts';
import { DOUBT_CODES } from '../../domain/foresight/adds-up.ts';
import { EFFECTS } from '../../domain/rules/model/finding.ts';
import { AskedAfterView, DoesNotApplyView } from './catalogue-schemas.ts';
import { Id, InstantOut, PlainDateOut } from '../../http/frame/common-schemas.ts';
import { BasisView, FindingView, TALLY_EXAMPLE, TallyView, VerdictView } from '../../http/views/finding-view.ts';
import { PhotoRef, SaysView } from '../../http/views/small-views.ts';
import { ConcessionInForce, IN_FORCE_EXAMPLE, ManyConcessions } from '../../http/views/clearance-view.ts';
import { SaidView } from '../../records/evidence.ts';

/** What is asked and judged of every car of a run group. */
export const QuestionsView = z
  .object({
    areas: z
      .array(z.object({ area: z.string().describe('As in the items'), label: z.string().describe('For people') }))
      .describe('In the order of a walk around the car'),
    items: z
      .array(
        z.object({
          key: z.string().describe('Catalogue key: use it in `answers`'),
          area: z.string().describe('Where on the car or in the papers'),
          label: z.string().describe('The question'),
          help: z.string().describe('How to look or measure'),
          answer: z.looseObject({ kind: z.string() }).describe('Type of the answer with unit, bounds or options'),
          askedAfter: AskedAfterView.optional(),
          answeredBy: z.enum(['entrant', 'inspector', 'both']).describe('Who answers it'),
          detailOf: z.string().optional().describe('Catalogue key of what asks the same in less detail'),
          lowestOf: z
            .enum(['axle', 'wheel'])
            .optional()
            .describe(
              'Its lowest value of an axle or a wheel may be given once; `asked` of a form names such cells where that is asked',
            ),
          doesNotApply: DoesNotApplyView.optional(),
          cautions: z.array(z.string()).describe('Read before you do this'),
        }),
      )
      .describe('In the order of the catalogue; a form names those that apply to its car'),
    rules: z
      .array(
        z.object({
          ruleId: z.string().describe('Id of the rule'),
          title: z.string().describe('What is judged'),
          effect: z.enum(EFFECTS).describe('What happens when it is not met'),
          items: z.array(z.string()).describe('Catalogue keys the rule reads; it is about the first'),
          basis: BasisView.describe('Where the rule comes from'),
          says: SaysView.optional().describe('The limit as one sentence, unless a form says it otherwise for its car'),
        }),
      )
      .describe('In rule-set order'),
    workshopSheet: z.boolean().describe('A photo of the workshop sheet may stand for the underside'),
  })
  .meta({ id: 'QuestionsView' });
export type QuestionsView = z.infer<typeof QuestionsView>;

export const questionsParams = z.strictObject({
  runGroupId: Id.describe('Id of the run group'),
  name: z.string().max(64).describe('SHA-256 of the content, as the form names it'),
});

/** A finding without what its rule says of itself. */
const FormFinding = FindingView.omit({ title: true, effect: true, items: true, basis: true }).extend({
  message: z.string().optional().describe('What is wrong, or missing; absent when met'),
  fix: z.string().optional().describe('What to do about it; absent when met, and where the answer is what is missing'),
});

/** What the rules need of a declaration. */
export const AskedView = z
  .object({
    cells: z
      .array(z.string())
      .describe(
        'Cells that a rule in force needs, answered or not, in the order of the catalogue. `key@*`: one answer for all places, each looked at, is enough (`each-place`); `key@front`: the lowest of the axle is',
      ),
    because: z
      .record(z.string(), z.array(z.string()))
      .describe('For cells that an answer brought up: the cells of those answers. Without them they are not asked'),
  })
  .describe(
    'What rules in force for this car and group read and can bar or ask for a look. Which rules are in force depends on what is answered so far. All else is optional',
  )
  .meta({ id: 'AskedView' });
export type AskedView = z.infer<typeof AskedView>;

/** Answers that do not go together. */
export const DoubtsView = z
  .array(
    z.object({
      code: z.enum(DOUBT_CODES).describe('What does not fit'),
      item: z.string().describe('Catalogue key'),
      places: z.array(z.string()).describe('Its positions'),
      says: z.string().describe('In one sentence, in the language that is asked for'),
      newItem: z.string().optional().describe('Item that asks whether they are new: `true` there ends the doubt'),
      saidNotNew: z.boolean().describe('It was said that nothing is new there: read again'),
    }),
  )
  .describe(
    'Answers that physics or the history of the car does not allow together. Ask first whether something is new, then to read again; what is left is looked at by the line. No verdict rests on it',
  );

export const FormItem = z.object({
  key: z.string().describe('Catalogue key: use it in `answers`'),
  positions: z.array(z.string()).optional().describe('Positions at which it is asked on this car'),
  asked: z
    .enum(['required', 'optional'])
    .describe(
      '`required`: a rule in force for this car and group needs it. `optional`: only advice reads it, or nothing; it is never missing',
    ),
  saved: z.unknown().optional().describe('The answer saved in the draft'),
  photos: z.array(PhotoRef.omit({ item: true })).describe('Photos of it, oldest first; a rule may ask for some'),
  earlier: z
    .object({
      answer: z.unknown().describe('In the shape of an answer; what the line measured stands for what was declared'),
      lasting: z.boolean().describe('It mostly stays the same from event to event'),
      loggedAt: InstantOut.optional().describe('Written down between sessions after it was declared'),
      renewed: z.array(z.string()).optional().describe('Where the log says that new ones were fitted there'),
    })
    .optional()
    .describe('What was answered for this car last time: to be offered, never to be taken by itself'),
  missing: z.array(z.string()).describe('Cells that are asked and still to be answered: position, field or both'),
});
export type FormItem = z.infer<typeof FormItem>;

/** Said wherever `judgedBy` is. */
export const JUDGED_BY =
  'Names all but the answers that the findings follow from: rules, car, event, photos, exceptions';

export const FormView = z
  .object({
    entryId: Id,
    carNumber: z.string().describe('Exact text'),
    runGroup: z.string().describe('Name of the run group whose limits are shown'),
    event: z
      .object({
        name: z.string().describe('Its name'),
        startsOn: PlainDateOut,
        endsOn: PlainDateOut,
        timeZone: z.string().describe('Of the venue, an IANA name: show times in it'),
      })
      .describe('The event it is for'),
    window: z
      .object({ opensAt: InstantOut, closesAt: InstantOut, open: z.boolean() })
      .describe('When declarations can be submitted'),
    draftRev: z.int().describe('Version of the saved draft, 0 when nothing is saved; as in the ETag'),
    questions: z
      .object({
        address: z.string().describe('Where they are read; what is there never changes, so keep it'),
        runGroupId: Id.describe('Its id'),
        hash: z.string().describe('Names exactly these questions'),
      })
      .describe('What is asked and judged of every car of the run group'),
    items: z.array(FormItem).describe('Only what applies to this car, in the order of the catalogue'),
    asked: AskedView,
    earlier: z
      .object({ event: z.string().describe('Its name'), endsOn: PlainDateOut })
      .optional()
      .describe('The event that `earlier` of the items is from'),
    doubts: DoubtsView,
    verdict: VerdictView,
    tally: TallyView.describe('How many findings there are, by what they count for'),
    judgedBy: z.string().describe(JUDGED_BY),
    findings: z
      .array(FormFinding)
      .describe(
        'What the rules say of the saved draft, all of it, in rule-set order: read with the rules of `questions`',
      ),
    says: z
      .array(
        z.object({
          ruleId: z.string().describe('Id of the rule'),
          position: z.string().optional().describe('Where on the car'),
          says: SaysView.nullable().describe('Null: the title says it'),
        }),
      )
      .describe('The limit as one sentence, where it is another one for this car than `questions` have'),
    said: SaidView,
    concessions: z.array(ConcessionInForce).describe('Exceptions in force for this car, in rule-set order'),
    manyConcessions: ManyConcessions,
    caution: z.string().describe('To be shown on the form'),
  })
  .meta({ id: 'FormView' });
export type FormView = z.infer<typeof FormView>;

export const QUESTIONS_EXAMPLE: QuestionsView = {
  areas: [{ area: 'brake-hydraulics', label: 'Brake fluid and pedal' }],
  items: [
    {
      key: 'brake.pedal',
      area: 'brake-hydraulics',
      label: 'Brake pedal',
      help: 'Press hard for ten seconds with the engine running.',
      answer: { kind: 'choice', options: ['firm', 'long', 'spongy', 'sinks'] },
      answeredBy: 'both',
      cautions: [],
    },
  ],
  rules: [
    {
      ruleId: 'brake-pedal-firm',
      title: 'Brake pedal',
      effect: 'bar',
      items: ['brake.pedal'],
      basis: { kind: 'common-practice' },
      says: { text: 'It stops high and hard.' },
    },
  ],
  workshopSheet: false,
};

export const SAID_EXAMPLE: SaidView = [
  {
    signatureId: '019ab8f0-0000-7000-8000-0000000001c1',
    shop: 'Unit 7 workshop',
    name: 'Ada Quist',
    signedAt: '2026-06-08T14:05:00.000Z',
    places: ['pad.thickness@FL.in'],
  },
];
const EXAMPLE_HASH = '7d5f0c1e9b3a4826af15c7d08e92b364f1a07c5d3e8b9240617fa2c3d4e5b6f8';

export const FORM_EXAMPLE: FormView = {
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  runGroup: 'Novice',
  event: { name: 'Summer track weekend', startsOn: '2026-06-13', endsOn: '2026-06-14', timeZone: 'Europe/Berlin' },
  window: { opensAt: '2026-06-01T06:00:00.000Z', closesAt: '2026-06-12T18:00:00.000Z', open: true },
  draftRev: 0,
  questions: {
    address: `/v1/run-groups/019ab8f0-0000-7000-8000-0000000000a1/questions/${EXAMPLE_HASH}`,
    runGroupId: '019ab8f0-0000-7000-8000-0000000000a1',
    hash: EXAMPLE_HASH,
  },
  asked: {
    cells: [
      'brake.pedal',
      'wheel.cracks@*',
      'tyre.date-code@FL',
      'tyre.date-code@FR',
      'tyre.date-code@RL',
      'tyre.date-code@RR',
    ],
    because: {},
  },
  earlier: { event: 'Spring track weekend', endsOn: '2026-04-19' },
  doubts: [],
  verdict: 'barred',
  tally: TALLY_EXAMPLE,
  judgedBy: '5c0e9f4a7b21d806',
  findings: [
    {
      ruleId: 'brake-pedal-firm',
      result: 'unanswerable',
      counts: 'bar',
      limit: 'firm',
      message: 'Not answered: Brake pedal',
      clearedBy: 'look',
    },
    {
      ruleId: 'pad-thickness',
      position: 'FL.in',
      result: 'not-met',
      counts: 'bar',
      measured: { value: 3.5, unit: 'mm' },
      limit: '≥ 4 mm',
      bounds: { min: { value: 4, unit: 'mm' } },
      margin: { value: -0.5, unit: 'mm' },
      source: 'declared',
      message: 'The pad is too thin to last the event.',
      fix: 'Fit new pads on both sides of the axle and bed them in.',
      clearedBy: 'measure',
    },
  ],
  says: [{ ruleId: 'pad-thickness', position: 'FL.in', says: { text: 'At least 4 mm of friction material.' } }],
  said: SAID_EXAMPLE,
  concessions: [IN_FORCE_EXAMPLE],
  items: [
    { key: 'brake.pedal', asked: 'required', photos: [], missing: ['brake.pedal'] },
    {
      key: 'tyre.date-code',
      positions: ['FL', 'FR', 'RL', 'RR'],
      asked: 'required',
      saved: { FL: '2318', FR: '2318', RL: '2318', RR: '2318' },
      photos: [{ photoId: '019ab8f0-0000-7000-8000-000000000152', position: 'FL' }],
      earlier: { answer: { FL: '2318', FR: '2318', RL: '2318', RR: '2318' }, lasting: false },
      missing: [],
    },
  ],
  caution: GENERAL_CAUTION,
};
