import { wholeMonthsBetween } from '../calendar.ts';
import { harnessLastDays } from '../trade/safety/label-validity-harness.ts';
import { type Fact, type FactInput, textAt } from './fact.ts';

const STANDARD = 'harness.standard';
const LABEL_DATE = 'harness.label-date';
const LABEL_KIND = 'harness.label-kind';
const ITEMS = [STANDARD, LABEL_DATE, LABEL_KIND];

function lastDays(input: FactInput, strap: string) {
  const standard = textAt(input, STANDARD);
  const date = textAt(input, LABEL_DATE, { position: strap });
  const shows = input.answer(LABEL_KIND);
  if (standard === undefined || date === undefined) return undefined;
  const days = harnessLastDays({
    standard,
    date,
    shows: shows === 'made-on' || shows === 'not-valid-after' ? shows : undefined,
    onDay: input.event.endsOn,
  });
  return input.need(days, 'The date on the label is not one that a harness of this standard can show');
}

/** Negative where the date is past. */
function monthsAhead(input: FactInput, strap: string): number | undefined {
  const date = textAt(input, LABEL_DATE, { position: strap });
  if (date === undefined) return undefined;
  const { endsOn } = input.event;
  return date < endsOn ? -wholeMonthsBetween(date, endsOn) : wholeMonthsBetween(endsOn, date);
}

/** What the labels of a harness say. */
export const RESTRAINT_FACTS = {
  harnessLastDay: {
    type: { kind: 'date' },
    scheme: 'strap',
    meaning: 'the last day of the strap; where nobody said what its date means, by the later reading',
    source: 'label-validity: two years from the month of manufacture for SFI, the printed date for all',
    items: ITEMS,
    compute: (input, strap) => lastDays(input, strap)?.latest,
  },
  harnessLastDaySurely: {
    type: { kind: 'date' },
    scheme: 'strap',
    meaning: 'the last day of the strap; where nobody said what its date means, by the earlier reading',
    source: 'label-validity: two years from the month of manufacture for SFI, the printed date for all',
    items: ITEMS,
    compute: (input, strap) => lastDays(input, strap)?.earliest,
  },
  harnessLabelAhead: {
    type: { kind: 'quantity', unit: 'month', decimals: 0 },
    scheme: 'strap',
    meaning: 'how far the date on the label lies after the event; negative where it is past',
    source: 'the calendar, completed months',
    items: [LABEL_DATE],
    compute: monthsAhead,
  },
} as const satisfies Readonly<Record<string, Fact>>;
