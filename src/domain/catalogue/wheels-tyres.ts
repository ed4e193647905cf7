import { choice, fields, itemsOf, number, optional, printed, required, text, YES_NO } from './item.ts';
import { READ_WITH } from './read-with.ts';

/** kPa gauge; generous, a flat tyre reads 0 */
const TYRE_PRESSURE = number('kPa', [0, 800], 0, { plausible: [80, 450] });

/** N·m; the smallest cars have 60, centre locks up to 700 */
const TORQUE = number('N·m', [0, 1500], 0, { plausible: [50, 800] });

/** mm; the deepest road tread is about 10 mm, that of off-road tyres 20 */
const TREAD = number('mm', [0, 25], 1, { plausible: [0, 13], uncertainty: READ_WITH.treadGauge });

const RATING = printed('tyre-rating', {
  source: '\\(?[0-9]{2,3}(/[0-9]{2,3})? ?[A-Z]{1,2}\\)?( XL)?',
  says: 'a load index and a speed symbol, for example 91W',
});

/** Tyres, wheels and what holds them on. */
export const WHEELS_TYRES_ITEMS = itemsOf('wheels-tyres', [
  {
    key: 'tyre.kind',
    label: 'Kind of tyres',
    help: 'Track-day: road-legal, with grooves, made for circuits. Slick: no grooves. Rain: a racing tyre for the wet. Leave it empty for ordinary road tyres.',
    answer: choice('road', 'track-day', 'slick', 'rain', 'temporary-spare'),
    answeredBy: 'both',
  },
  {
    key: 'tyre.axle-marking',
    label: 'Both tyres of the axle alike, and their marking',
    help: 'Compare left and right: size, make, kind, load index and speed symbol. The marking stands after the size, for example 91W; of two that differ, the lower one.',
    answer: fields({
      same: required('Both tyres of this axle are the same', YES_NO),
      rating: optional('Load index and speed symbol', RATING),
      size: optional('Size', text(20)),
    }),
    positions: 'axle',
    answeredBy: 'both',
  },
  {
    key: 'tyre.tread-lowest',
    label: 'Lowest tread on this tyre',
    help: 'In the main grooves, at the place where it is lowest: look at the inner edge too, it wears first.',
    answer: TREAD,
    positions: 'wheel',
    answeredBy: 'both',
  },
  {
    key: 'tyre.tread',
    label: 'Tread depth',
    help: 'In a main groove at the inner edge, middle and outer edge of each tyre. A slick has none: enter its kind and look at its wear holes.',
    answer: TREAD,
    positions: 'wheel-zone',
    lowestOf: 'wheel',
    answeredBy: 'both',
    detailOf: 'tyre.tread-lowest',
  },
  {
    key: 'tyre.new-since-last',
    label: 'New or other tyres on this axle since the last event',
    help: 'Yes if the tyres are others than those the car ran last time. Without an answer they count as the same.',
    answer: YES_NO,
    positions: 'axle',
    answeredBy: 'entrant',
  },
  {
    key: 'tyre.wear-holes',
    label: 'Wear holes of the slick',
    help: 'The small holes across the surface are as deep as the rubber that may be worn. One that has vanished, anywhere on the tyre, means worn out.',
    answer: choice('all-there', 'some-gone', 'none-made'),
    positions: 'wheel',
    answeredBy: 'both',
  },
  {
    key: 'tyre.cords-visible',
    label: 'Are cords visible anywhere?',
    help: 'Turn the wheel all the way round, inner shoulder too: that is where they show first.',
    answer: YES_NO,
    positions: 'wheel',
    answeredBy: 'both',
  },
  {
    key: 'tyre.cuts-or-bulges',
    label: 'Any cut to the cords, bulge or object in the tyre?',
    help: 'Both sidewalls and the tread.',
    answer: YES_NO,
    positions: 'wheel',
    answeredBy: 'both',
  },
  {
    key: 'tyre.date-code',
    label: 'Tyre date code',
    help: 'The last four digits of the identification number on the sidewall: week and year, 2324 is week 23 of 2024. Three digits are from before 2000.',
    answer: printed('tyre-date-code', {
      source: '[0-9]{3,4}',
      says: 'the last four digits of the DOT number, for example 2324; three on a tyre from before 2000',
    }),
    positions: 'wheel',
    answeredBy: 'both',
    doesNotApply: ['no-marking'],
  },
  {
    key: 'tyre.rating',
    label: 'Load index and speed symbol',
    help: 'From the sidewall after the size, for example 91W or (95Y).',
    answer: RATING,
    positions: 'wheel',
    answeredBy: 'both',
    detailOf: 'tyre.axle-marking',
    doesNotApply: ['no-marking'],
  },
  {
    key: 'tyre.cold-pressure',
    label: 'Cold tyre pressure',
    help: 'Gauge pressure before driving, tyres at air temperature and out of the sun.',
    answer: TYRE_PRESSURE,
    positions: 'wheel',
    lowestOf: 'axle',
    answeredBy: 'both',
  },
  {
    key: 'tyre.hot-pressure',
    label: 'Hot tyre pressure after a session',
    help: 'Gauge pressure as soon as the car has stopped; leave it empty before the first session.',
    answer: TYRE_PRESSURE,
    positions: 'wheel',
    answeredBy: 'entrant',
    cautions: ['hot-parts'],
  },
  {
    key: 'wheel.cracks',
    label: 'Cracks in the wheel',
    help: 'Spokes, hub face, around the fastener holes, and the inner barrel.',
    answer: choice('none', 'crack'),
    positions: 'wheel',
    answeredBy: 'both',
  },
  {
    key: 'wheel.bent',
    label: 'Bent wheel',
    help: 'Spin it and watch the rim; measure the runout at the bead seat, in and out and up and down, if it wobbles.',
    answer: fields({
      bent: required('Does the rim wobble?', YES_NO),
      runout: optional(
        'If it was measured: the larger runout',
        number('mm', [0, 50], 3, { plausible: [0, 15], uncertainty: READ_WITH.dialIndicator }),
      ),
    }),
    positions: 'wheel',
    answeredBy: 'both',
    cautions: ['lifting'],
  },
  {
    key: 'wheel.weights-present',
    label: 'Balance weights',
    help: 'A clean patch of old adhesive is where a weight was lost.',
    answer: choice('present', 'none-used', 'lost'),
    positions: 'wheel',
    answeredBy: 'both',
  },
  {
    key: 'wheel.rubber-buildup',
    label: 'Rubber thrown up inside the wheel',
    help: 'Rubber or gravel stuck in the barrel puts the wheel out of balance.',
    answer: choice('none', 'some', 'heavy'),
    positions: 'wheel',
    answeredBy: 'both',
  },
  {
    key: 'wheel.clean',
    label: 'Is the wheel clean enough to inspect?',
    help: 'Inside and outside: cracks do not show under brake dust.',
    answer: YES_NO,
    positions: 'wheel',
    answeredBy: 'both',
    cautions: ['brake-dust'],
  },
  {
    key: 'wheel.torque-setting',
    label: 'Torque wrench setting, all wheels',
    help: 'What the wrench was set to when every fastener of all four wheels clicked, today and with the car on the ground. Compared with the value of the maker.',
    answer: TORQUE,
    answeredBy: 'both',
    cautions: ['wheel-fasteners'],
  },
  {
    key: 'wheel.torque',
    detailOf: 'wheel.torque-setting',
    label: 'Wheel fastener torque',
    help: "With a torque wrench in the tightening direction, the lowest fastener of the wheel. Compared with the maker's value for this car.",
    answer: TORQUE,
    positions: 'wheel',
    answeredBy: 'both',
    cautions: ['wheel-fasteners'],
  },
  {
    key: 'wheel.fitting',
    label: 'Wheels and fasteners as the car left its maker',
    help: 'Other wheels, spacers, other studs or bolts change how much thread holds the wheel.',
    answer: choice('as-the-maker-fitted', 'other-wheels', 'spacers'),
    answeredBy: 'both',
    appliesWhen: { wheelFastening: ['bolts', 'studs'] },
  },
  {
    key: 'wheel.stud-engagement',
    label: 'Thread engagement of the wheel fasteners',
    help: 'The shortest one: length of thread inside the nut or hub, or full turns counted while it is taken off. Give one or both.',
    answer: fields({
      length: optional('Engaged length', number('mm', [0, 100], 1, { plausible: [5, 50] })),
      turns: optional('Full turns', number('turns', [0, 60], 1, { plausible: [3, 30] })),
    }),
    answeredBy: 'both',
    appliesWhen: { wheelFastening: ['bolts', 'studs'] },
    cautions: ['wheel-fasteners'],
  },
]);
