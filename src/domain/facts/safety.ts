import { wholeMonthsBetween } from '../calendar.ts';
import { roundTo } from '../quantity.ts';
import { harnessLastDays, labelLastDay } from '../trade/safety/label-validity.ts';
import { findSoundAtReference } from '../trade/safety/sound-level.ts';
import { findRollClearance } from '../trade/suspension/roll-clearance.ts';
import { type Fact, type FactInput, numberAt, textAt } from './fact.ts';

const SOUND = 'exhaust.sound-level';
const ROLL = 'rollover.clearance';

function soundAtVenue(input: FactInput): number | undefined {
  const levelDb = numberAt(input, SOUND, { field: 'level' });
  const distanceM = numberAt(input, SOUND, { field: 'distance' });
  const referenceM = input.need(input.venue.soundDistanceM, 'The venue record has no soundDistanceM', 'record');
  if (levelDb === undefined || distanceM === undefined || referenceM === undefined) return undefined;
  // the distance decides: a reading is near-field or not by where it was taken, whatever it is called
  const level = findSoundAtReference({ levelDb, distanceM, method: 'static', referenceM });
  const says = 'A near-field level says nothing about the distance of the venue';
  return input.need(level === undefined ? undefined : roundTo(level, 1), says);
}

/** Straight up from the helmet to the line, as it is taped; the round of the helmet is not in it. */
function clearance(input: FactInput): number | undefined {
  const [hoopX, hoopZ, frontX, frontZ, helmetX, helmetZ] = [
    'hoopTopX',
    'hoopTopZ',
    'frontX',
    'frontZ',
    'helmetTopX',
    'helmetTopZ',
  ].map((field) => numberAt(input, ROLL, { field }));
  if (hoopX === undefined || hoopZ === undefined || frontX === undefined || frontZ === undefined) return undefined;
  if (helmetX === undefined || helmetZ === undefined) return undefined;
  const found = findRollClearance({
    hoopTop: { x: hoopX, z: hoopZ },
    front: { x: frontX, z: frontZ },
    helmetTop: { x: helmetX, z: helmetZ },
  });
  const says = 'The helmet is not between the hoop and the front structure, or these are not one behind the other';
  return input.need(found && roundTo(found.verticalMm, 0), says);
}

function helmetLastDay(input: FactInput): string | undefined {
  const standard = textAt(input, 'helmet.standard');
  const madeOn = textAt(input, 'helmet.made-on');
  if (standard === undefined || madeOn === undefined) return undefined;
  const says = 'The end of a helmet of this standard is not known from its date of manufacture';
  return input.need(labelLastDay(standard, { madeOn }, { acceptance: 'club' }), says);
}

/** Sound, roll-over clearance, and the label of the helmet. */
export const SAFETY_FACTS = {
  soundLevelAtVenue: {
    type: { kind: 'quantity', unit: 'dB(A)', decimals: 1 },
    meaning: 'the sound level at the distance of the venue, free field assumed',
    source: 'sound-level: inverse distance law',
    items: [SOUND],
    compute: soundAtVenue,
  },
  rollClearance: {
    type: { kind: 'quantity', unit: 'mm', decimals: 0 },
    meaning: 'the height of the line from hoop to front structure above the helmet',
    source: 'roll-clearance: straight edge from hoop to header, common practice',
    items: [ROLL],
    compute: clearance,
  },
  helmetValidThrough: {
    type: { kind: 'date' },
    meaning: 'the last day of the helmet by the usual club rule for its standard; 9999-12-31 where there is none',
    source: 'label-validity: ten years from the year of a Snell SA standard, common practice of clubs',
    items: ['helmet.standard', 'helmet.made-on'],
    compute: helmetLastDay,
  },
} as const satisfies Readonly<Record<string, Fact>>;

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
