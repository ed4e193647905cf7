import { z } from 'zod';
import { Id } from '../../../http/frame/common-schemas.ts';

export const STEPS = ['venue', 'event', 'rules', 'groups', 'people', 'entries', 'links'] as const;
export type Step = (typeof STEPS)[number];

/** Steps that may be left out: what the others make is what entrants are judged by. */
export const SKIPPABLE = ['venue', 'people', 'entries', 'links'] as const;

/** What can be missing, and before what it must be there: `entrants` can start, or the `day`; `better` can stay as it is. */
export const MISSING = {
  'no-venue': { step: 'venue', before: 'entrants' },
  'no-braking-zones': { step: 'venue', before: 'better' },
  'no-top-speed': { step: 'venue', before: 'better' },
  'no-event': { step: 'event', before: 'entrants' },
  'event-cancelled': { step: 'event', before: 'entrants' },
  'event-over': { step: 'event', before: 'entrants' },
  'window-closed': { step: 'event', before: 'entrants' },
  'no-rules': { step: 'rules', before: 'entrants' },
  'no-group': { step: 'groups', before: 'entrants' },
  'session-off-day': { step: 'groups', before: 'day' },
  'no-inspector': { step: 'people', before: 'day' },
  'one-inspector': { step: 'people', before: 'day' },
  'no-chief': { step: 'people', before: 'day' },
  'no-marshal': { step: 'people', before: 'day' },
  'no-entry': { step: 'entries', before: 'entrants' },
  'no-link': { step: 'links', before: 'entrants' },
  'some-links': { step: 'links', before: 'entrants' },
} as const satisfies Readonly<Record<string, { step: Step; before: 'entrants' | 'day' | 'better' }>>;
export type MissingCode = keyof typeof MISSING;

/** Exhaustive by its type: a code without words does not compile. */
export const WORDS: Readonly<Record<MissingCode, string>> = {
  'no-venue': 'There is no venue. Name and time zone are enough to begin.',
  'no-braking-zones':
    'The venue has no braking zones, so no rule can work out how hot brakes get there. Pads and fluid are judged by fixed limits.',
  'no-top-speed': 'The venue has no top speed, so tyres are not held against the speed that is reached there.',
  'no-event': 'There is no event.',
  'event-cancelled': 'The event was cancelled. Copy it to have it after all.',
  'event-over': 'The event is over.',
  'window-closed': 'Declarations are closed. Only an inspector at the line can take one now.',
  'no-rules': 'No rules are published. The built-in set is adopted with one tap.',
  'no-group': 'There is no run group, so nobody can be entered.',
  'session-off-day': 'The first session of a group is on no day of the event.',
  'no-inspector': 'No inspector has access. Nobody can accept a car.',
  'one-inspector': 'Only one inspector has access. Nobody may accept the own car, and the line is slow.',
  'no-chief': 'No chief inspector has access. Nobody can grant an exception.',
  'no-marshal': 'No gate device has access. Nobody can ask whether a car may go.',
  'no-entry': 'Nobody is entered.',
  'no-link': 'No entrant has a link, so nobody can declare.',
  'some-links': 'Some entrants have no link yet.',
};

const Missing = z.object({
  code: z.enum(Object.keys(MISSING) as [MissingCode, ...MissingCode[]]).describe('What is missing, for programs'),
  before: z
    .enum(['entrants', 'day', 'better'])
    .describe('`entrants`: they cannot start without; `day`: the event cannot; `better`: it can stay so'),
  words: z.string().describe('What it means'),
  count: z.int().optional().describe('Of how many'),
});
export type Missing = z.infer<typeof Missing>;

export const SetUpView = z
  .object({
    eventId: Id.optional().describe('Absent while there is no event'),
    steps: z
      .array(
        z.object({
          step: z.enum(STEPS).describe('The step'),
          state: z
            .enum(['open', 'done', 'skipped'])
            .describe('`done`: nothing is missing; `skipped`: left out on purpose, and something is'),
          count: z.int().describe('How many there are: venues, events, rule sets, groups, people, entries, links'),
          missing: z.array(Missing).describe('What is missing here'),
        }),
      )
      .describe('In the order in which they are done'),
    next: z.enum(STEPS).nullable().describe('The first open step; null: all are done or left out'),
    entrantsCanStart: z.boolean().describe('Whether entrants who have a link can declare now or when the window opens'),
  })
  .meta({ id: 'SetUpView' });
export type SetUpView = z.infer<typeof SetUpView>;

export const setUpQuery = z.strictObject({
  eventId: Id.optional().describe('The event; absent: what there is before one'),
});
export const skipParams = z.strictObject({
  eventId: Id,
  step: z.enum(SKIPPABLE).describe('A step that may be left out'),
});
export const SkipStep = z
  .strictObject({ skipped: z.boolean().describe('`true`: it is left out on purpose; `false`: it counts again') })
  .meta({ id: 'SkipSetUpStep' });

export const SET_UP_EXAMPLE: SetUpView = {
  eventId: '019ab8f0-0000-7000-8000-0000000000e1',
  steps: [
    {
      step: 'people',
      state: 'open',
      count: 2,
      missing: [{ code: 'one-inspector', before: 'day', words: WORDS['one-inspector'] }],
    },
  ],
  next: 'people',
  entrantsCanStart: true,
};
