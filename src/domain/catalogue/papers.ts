import { CONFIRM, DATE, fields, itemsOf, number, optional, required, text } from './answers.ts';

/** What the entrant signs for, and how much the car has run. */
export const PAPERS_ITEMS = itemsOf('papers', [
  {
    key: 'full-inspection.done-on',
    label: 'Last full inspection',
    help: 'The day, and the person or workshop who did it.',
    answer: fields({ date: required('Done on', DATE), by: optional('Done by', text(120)) }),
    answeredBy: 'entrant',
  },
  {
    key: 'pre-event-check.done-on',
    label: 'Check before this event done on',
    help: 'The day this list was gone through at the car.',
    answer: DATE,
    answeredBy: 'entrant',
  },
  {
    key: 'car.usage',
    label: 'Odometer or track hours',
    help: 'Whichever you keep; intervals by use are counted from it.',
    answer: fields({
      odometer: optional('Odometer', number('km', [0, 2_000_000], 0, { plausible: [0, 1_000_000] })),
      trackHours: optional('Track hours', number('h', [0, 100_000], 1, { plausible: [0, 20_000] })),
    }),
    answeredBy: 'entrant',
  },
  {
    key: 'declaration.true-and-complete',
    label: 'I declare that these answers are true and complete',
    help: 'You checked the car yourself or know who did, and you will say so if anything changes before you drive.',
    answer: CONFIRM,
    answeredBy: 'entrant',
    cautions: ['general'],
  },
]);
