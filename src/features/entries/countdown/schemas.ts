import { z } from 'zod';
import { GENERAL_CAUTION } from '../../../domain/cautions.ts';
import { PACKED, STAGES, TASKS } from '../../../domain/prepare/countdown.ts';
import { OPENINGS, type Part, PART_DAYS } from '../../../domain/prepare/work-table.ts';
import { Id, InstantOut, PlainDateOut } from '../../../http/frame/common-schemas.ts';

// the keys of the table are the parts
const PARTS = Object.keys(PART_DAYS) as [Part, ...Part[]];
const Axle = z.enum(['front', 'rear']).describe('Axle');
const Titles = z.array(z.string()).describe('What it is about, in the language that is asked for');

const TaskView = z.object({
  kind: z.enum(TASKS).describe('What is to be done; the other fields say of what'),
  titles: Titles.optional(),
  part: z.enum(PARTS).optional().describe('What to order or book'),
  opening: z.enum(OPENINGS).optional().describe('What is opened or taken off for it'),
  axle: Axle.optional(),
  wear: z.enum(['pad', 'rotor', 'tread']).optional().describe('What wears'),
  minutes: z.int().optional().describe('About how long it takes; common practice'),
  count: z
    .number()
    .optional()
    .describe(
      '`answer`: open questions; `order-for-wear`, `watch-wear`: sessions it lasts with a chance of 95 %; `wore`: sessions driven',
    ),
  value: z
    .number()
    .optional()
    .describe('`set-wrench`: N·m; `watch-wear`: least that must be left, mm; `wore`: what is left, mm'),
  before: z.number().optional().describe('`wore`: what there was, mm'),
  by: PlainDateOut.optional().describe('By this day; `due`, `ends`: the last day on which it is accepted'),
  at: InstantOut.optional().describe('By this instant'),
  isLate: z.literal(true).optional().describe('The day to order has passed: ask for a faster way'),
});

export const CountdownView = z
  .object({
    entryId: Id,
    event: z
      .object({
        name: z.string().describe('Its name'),
        startsOn: PlainDateOut,
        endsOn: PlainDateOut,
        timeZone: z.string().describe('Of the venue, an IANA name: show times in it'),
      })
      .describe('The event it counts down to'),
    stages: z
      .array(
        z.object({
          stage: z.enum(STAGES).describe('From ordering parts to what is due before the next event'),
          from: PlainDateOut.describe('First day'),
          to: PlainDateOut.describe('Last day'),
          when: z.enum(['past', 'now', 'later']).describe('Where today is, at the venue'),
          tasks: z.array(TaskView).describe('In the order to do them'),
        }),
      )
      .describe('In order of time; a stage without a task is there too'),
    pack: z
      .array(
        z.object({
          what: z.enum(PACKED).describe('What goes along'),
          titles: Titles.optional(),
          axle: Axle.optional(),
          value: z.number().optional().describe('Torque, N·m'),
        }),
      )
      .describe('What goes along: what every car needs, and what this one may need'),
    looks: z
      .array(z.string())
      .describe('What the line looks at on every car of the group, in the language that is asked for'),
    dates: z
      .array(
        z.object({
          what: z
            .enum(['declare-by', 'session', 'first-session', 'condition'])
            .describe('As in the calendar file of the entry'),
          name: z.string().optional().describe('Of a session, or what the condition asks for'),
          at: InstantOut.describe('When it is, or begins'),
        }),
      )
      .describe('In order of time'),
    caution: z.string().describe('To be shown with it'),
  })
  .meta({ id: 'CountdownView' });
export type CountdownView = z.infer<typeof CountdownView>;

export const COUNTDOWN_EXAMPLE: CountdownView = {
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  event: { name: 'Summer track weekend', startsOn: '2026-06-13', endsOn: '2026-06-14', timeZone: 'Europe/Berlin' },
  stages: [
    {
      stage: 'two-weeks',
      from: '2026-05-30',
      to: '2026-06-05',
      when: 'now',
      tasks: [{ kind: 'order', part: 'pads', titles: ['Brake pad thickness for this group'], by: '2026-06-07' }],
    },
  ],
  pack: [
    { what: 'torque-wrench', value: 110 },
    { what: 'spare-pads', axle: 'front' },
  ],
  looks: ['Brake pedal: press hard for ten seconds'],
  dates: [{ what: 'first-session', at: '2026-06-13T07:20:00.000Z' }],
  caution: GENERAL_CAUTION,
};
