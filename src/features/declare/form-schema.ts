import { z } from 'zod';
import { GENERAL_CAUTION } from '../../domain/cautions.ts';
import { EFFECTS } from '../../domain/rules/model/finding.ts';
import { AskedAfterView } from './catalogue-schemas.ts';
import { Id, InstantOut, PlainDateOut } from '../../http/frame/common-schemas.ts';
import { BoundsView, FINDING_EXAMPLE, FindingView, VerdictView } from '../../http/views/finding-view.ts';
import { PhotoRef } from '../../http/views/small-views.ts';
import { ConcessionInForce, IN_FORCE_EXAMPLE, ManyConcessions } from '../../http/views/concession-view.ts';
import { SaysView } from '../../http/views/says-view.ts';
import { DoesNotApplyView } from './catalogue-schemas.ts';

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

export const FormItem = z.object({
  key: z.string().describe('Catalogue key: use it in `answers`'),
  area: z.string().describe('Where on the car or in the papers'),
  label: z.string().describe('The question'),
  help: z.string().describe('How to look or measure'),
  answer: z.looseObject({ kind: z.string() }).describe('Type of the answer with unit, bounds or options'),
  positions: z.array(z.string()).optional().describe('Positions at which it is asked on this car'),
  askedAfter: AskedAfterView.optional(),
  answeredBy: z.enum(['entrant', 'inspector', 'both']).describe('Who answers it'),
  asked: z
    .enum(['required', 'optional'])
    .describe(
      '`required`: a rule in force for this car and group needs it. `optional`: only advice reads it, or nothing; it is never missing',
    ),
  detailOf: z.string().optional().describe('Catalogue key of what asks the same in less detail'),
  lowestOf: z
    .enum(['axle', 'wheel'])
    .optional()
    .describe('Its lowest value of an axle or a wheel may be given once; `asked` names such cells where that is asked'),
  doesNotApply: DoesNotApplyView.optional(),
  cautions: z.array(z.string()).describe('Read before you do this'),
  rules: z
    .array(
      z.object({
        ruleId: z.string().describe('Id of the rule'),
        title: z.string().describe('What is judged'),
        effect: z.enum(EFFECTS).describe('What happens when it is not met'),
        position: z.string().optional().describe('Where on the car'),
        limit: z.string().optional().describe('What is asked for in this run group'),
        bounds: BoundsView.optional(),
        says: SaysView.optional().describe('The limit as one sentence; absent: the title says it'),
        concession: ConcessionInForce.optional().describe('The exception to this rule that is in force for this car'),
      }),
    )
    .describe('The rules that read this item'),
  saved: z.unknown().optional().describe('The answer saved in the draft'),
  photos: z.array(PhotoRef.omit({ item: true })).describe('Photos of it, oldest first; a rule may ask for some'),
  earlier: z
    .object({
      answer: z.unknown().describe('In the shape of an answer; what the line measured stands for what was declared'),
      lasting: z.boolean().describe('It mostly stays the same from event to event'),
    })
    .optional()
    .describe('What was answered for this car last time: to be offered, never to be taken by itself'),
  missing: z.array(z.string()).describe('Cells that are asked and still to be answered: position, field or both'),
});

export type FormItem = z.infer<typeof FormItem>;

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
    areas: z
      .array(z.object({ area: z.string().describe('As in the items'), label: z.string().describe('For people') }))
      .describe('Those that have items here, in the order of a walk around the car'),
    items: z.array(FormItem).describe('Only what applies to this car, in the order of the catalogue'),
    asked: AskedView,
    earlier: z
      .object({ event: z.string().describe('Its name'), endsOn: PlainDateOut })
      .optional()
      .describe('The event that `earlier` of the items is from'),
    verdict: VerdictView,
    findings: z.array(FindingView).describe('What the rules say of the saved draft, in rule-set order'),
    manyConcessions: ManyConcessions,
    caution: z.string().describe('To be shown on the form'),
  })
  .meta({ id: 'FormView' });
export type FormView = z.infer<typeof FormView>;

export const FORM_EXAMPLE: FormView = {
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  runGroup: 'Novice',
  event: { name: 'Summer track weekend', startsOn: '2026-06-13', endsOn: '2026-06-14', timeZone: 'Europe/Berlin' },
  window: { opensAt: '2026-06-01T06:00:00.000Z', closesAt: '2026-06-12T18:00:00.000Z', open: true },
  draftRev: 0,
  areas: [
    { area: 'brake-hydraulics', label: 'Brake fluid and pedal' },
    { area: 'wheels-tyres', label: 'Wheels and tyres' },
  ],
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
  verdict: 'barred',
  findings: [FINDING_EXAMPLE],
  items: [
    {
      key: 'brake.pedal',
      area: 'brake-hydraulics',
      label: 'Brake pedal',
      help: 'Press hard for ten seconds with the engine running.',
      answer: { kind: 'choice', options: ['firm', 'long', 'spongy', 'sinks'] },
      answeredBy: 'both',
      asked: 'required',
      cautions: [],
      rules: [
        {
          ruleId: 'brake-pedal-firm',
          title: 'Brake pedal',
          effect: 'bar',
          limit: 'firm',
          says: { text: 'It stops high and hard.' },
        },
      ],
      photos: [],
      missing: ['brake.pedal'],
    },
    {
      key: 'tyre.date-code',
      area: 'wheels-tyres',
      label: 'Tyre date code',
      help: 'The last four digits of the DOT code: week and year.',
      answer: { kind: 'text' },
      positions: ['FL', 'FR', 'RL', 'RR'],
      answeredBy: 'entrant',
      asked: 'required',
      cautions: [],
      rules: [{ ruleId: 'tyre-age-limit', title: 'Tyre age', effect: 'bar', concession: IN_FORCE_EXAMPLE }],
      saved: { FL: '2318', FR: '2318', RL: '2318', RR: '2318' },
      photos: [{ photoId: '019ab8f0-0000-7000-8000-000000000152', position: 'FL' }],
      earlier: { answer: { FL: '2318', FR: '2318', RL: '2318', RR: '2318' }, lasting: false },
      missing: [],
    },
  ],
  caution: GENERAL_CAUTION,
};
