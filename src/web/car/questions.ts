/** Facts by path, as the server has them: `rotor.front`, `massKg`. */
export type Facts = Readonly<Record<string, string | number | boolean>>;

type Choice = { kind: 'choice'; options: readonly (string | number)[] };
type Answer = Choice | { kind: 'text' } | { kind: 'yes-no' } | { kind: 'number'; unit: string };

/** One question about the car; it may stand once for the car, or once per axle or place. */
export interface Question {
  /** property of the record; texts are under it */
  field: string;
  answer: Answer;
  /**
   * `axle`: front and rear; `wheels`: per axle too, but the record has a value for each wheel; `bushing`: where an arm, a bar
   * or a frame is held
   */
  places?: 'axle' | 'wheels' | 'bushing';
  /** it is read off a part, so that it can be said from where it is, and shown */
  isStamped?: true;
  /** whether this car has such a thing; absent: every car has */
  when?: (facts: Facts, axle: string | undefined) => boolean;
}

export interface Section {
  id: string;
  questions: readonly Question[];
}

const text: Answer = { kind: 'text' };
const yesNo: Answer = { kind: 'yes-no' };
const choice = (...options: (string | number)[]): Answer => ({ kind: 'choice', options });
const number = (unit: string): Answer => ({ kind: 'number', unit });
const FLUIDS = choice('DOT 3', 'DOT 4', 'DOT 5', 'DOT 5.1', 'mineral-oil');

const brakeIs =
  (...kinds: string[]) =>
  (facts: Facts, axle: string | undefined): boolean =>
    kinds.includes(String(facts[`rotor.${axle}`] ?? ''));
const isElectric = (facts: Facts): boolean => ['hybrid', 'battery'].includes(String(facts['powertrain'] ?? ''));
const hasGas = (facts: Facts): boolean => ['lpg', 'cng', 'hydrogen'].includes(String(facts['gas'] ?? ''));
const hasEngine = (facts: Facts): boolean => facts['powertrain'] !== 'battery';
const hasClutchFluid = (facts: Facts): boolean => facts['hydraulicClutch'] === true;

/** What is asked of a car, in walking order. What it does not have is not asked. */
export const SECTIONS: readonly Section[] = [
  {
    id: 'what',
    questions: [
      { field: 'description', answer: text },
      { field: 'colour', answer: text },
      { field: 'body', answer: choice('closed', 'open', 'targa') },
      { field: 'powertrain', answer: choice('combustion', 'hybrid', 'battery') },
      { field: 'gas', answer: choice('none', 'lpg', 'cng', 'hydrogen') },
      { field: 'disconnectAt', answer: text, when: (facts) => isElectric(facts) || hasGas(facts) },
      { field: 'drive', answer: choice('front', 'rear', 'all') },
      { field: 'massKg', answer: number('kg') },
      { field: 'topSpeedKmh', answer: number('km/h') },
    ],
  },
  {
    id: 'brakes',
    questions: [
      { field: 'rotor', answer: choice('iron', 'carbon', 'drum'), places: 'axle' },
      { field: 'caliper', answer: choice('fixed', 'floating'), places: 'axle', when: brakeIs('iron', 'carbon') },
      {
        field: 'rotorMinimumThicknessMm',
        answer: number('mm'),
        places: 'wheels',
        isStamped: true,
        when: brakeIs('iron'),
      },
      { field: 'rotorMinimumWeightG', answer: number('g'), places: 'wheels', isStamped: true, when: brakeIs('carbon') },
      {
        field: 'drumMaximumDiameterMm',
        answer: number('mm'),
        places: 'wheels',
        isStamped: true,
        when: brakeIs('drum'),
      },
      { field: 'lining', answer: choice('bonded', 'riveted'), places: 'axle', when: brakeIs('drum') },
    ],
  },
  {
    id: 'wheels',
    questions: [
      { field: 'wheelFastening', answer: choice('bolts', 'studs', 'centre-lock') },
      { field: 'wheelNutTorqueNm', answer: number('N·m'), isStamped: true },
      {
        field: 'wheelNutTorqueToleranceNm',
        answer: number('N·m'),
        when: (facts) => facts['wheelNutTorqueNm'] !== undefined,
      },
      {
        field: 'wheelStudDiameterMm',
        answer: number('mm'),
        when: (facts) => facts['wheelFastening'] !== 'centre-lock',
      },
      { field: 'wheelThreadPitchMm', answer: number('mm'), when: (facts) => facts['wheelFastening'] !== 'centre-lock' },
      {
        field: 'wheelThreadIn',
        answer: choice('steel', 'aluminium'),
        when: (facts) => facts['wheelFastening'] !== 'centre-lock',
      },
    ],
  },
  {
    id: 'tyres',
    questions: [
      { field: 'coldPressurePlacardKpa', answer: number('kPa'), places: 'axle' },
      { field: 'axleLoadKg', answer: number('kg'), places: 'axle' },
    ],
  },
  {
    id: 'belts',
    questions: [
      { field: 'restraint', answer: choice('three-point', 'harness') },
      { field: 'harnessPoints', answer: choice(4, 5, 6), when: (facts) => facts['restraint'] === 'harness' },
    ],
  },
  {
    id: 'fluids',
    questions: [
      { field: 'brakeFluidPrescribed', answer: FLUIDS },
      { field: 'hydraulicClutch', answer: yesNo },
      { field: 'clutchFluidPrescribed', answer: FLUIDS, when: hasClutchFluid },
      { field: 'sharedReservoir', answer: yesNo, when: hasClutchFluid },
      { field: 'oilLevelMethod', answer: choice('dipstick', 'sight-glass', 'electronic', 'tank'), when: hasEngine },
      { field: 'sump', answer: choice('wet', 'dry'), when: hasEngine },
      { field: 'oilReadFromMinutes', answer: number('min'), when: hasEngine },
      { field: 'oilReadToMinutes', answer: number('min'), when: hasEngine },
      { field: 'cooling', answer: choice('liquid', 'air') },
      { field: 'fuelCell', answer: yesNo, when: hasEngine },
    ],
  },
  {
    id: 'gearbox',
    questions: [
      { field: 'gearbox', answer: choice('own-oil', 'sealed', 'shares-engine-oil', 'reduction-gear') },
      { field: 'separateDifferential', answer: yesNo },
    ],
  },
  {
    id: 'steering',
    questions: [
      { field: 'steering', answer: choice('rack', 'box', 'other') },
      { field: 'hubBearing', answer: choice('sealed', 'taper'), places: 'axle' },
      {
        field: 'hubEndFloatMaximumMm',
        answer: number('mm'),
        places: 'axle',
        when: (facts, axle) => facts[`hubBearing.${axle}`] === 'taper',
      },
      { field: 'damper.rebuildable', answer: yesNo },
      {
        field: 'damper.use',
        answer: choice('club', 'professional'),
        when: (facts) => facts['damper.rebuildable'] === true,
      },
    ],
  },
  {
    id: 'bushings',
    questions: [{ field: 'bushing', answer: choice('rubber', 'urethane', 'spherical', 'none'), places: 'bushing' }],
  },
  {
    id: 'electric',
    questions: [
      { field: 'highVoltageV', answer: number('V'), when: isElectric },
      { field: 'conversion', answer: yesNo, when: isElectric },
    ],
  },
];

/** One place where an answer is given, with the facts of the record that it is. */
export interface Asked {
  question: Question;
  /** the axle, or where the bushing is; `everywhere`: one answer for all of these; absent: the whole car */
  place?: Place;
  /** all have the same value: both wheels of an axle */
  paths: readonly string[];
}

const BUSHINGS = [
  'front-upper-arm',
  'front-lower-arm',
  'front-anti-roll-bar',
  'rear-upper-arm',
  'rear-lower-arm',
  'rear-anti-roll-bar',
  'subframe',
  'differential-mount',
] as const;
type Place = 'front' | 'rear' | 'everywhere' | (typeof BUSHINGS)[number];
const WHEELS = { front: ['FL', 'FR'], rear: ['RL', 'RR'] } as const;

/** What is asked of this car, by what it is known to have. */
export function askedIn({ questions }: Section, facts: Facts): Asked[] {
  return questions.flatMap((question): Asked[] => {
    const { field, places, when } = question;
    if (places === undefined) return when?.(facts, undefined) === false ? [] : [{ question, paths: [field] }];
    if (places === 'bushing') return BUSHINGS.map((place) => ({ question, place, paths: [`${field}.${place}`] }));
    return (['front', 'rear'] as const)
      .filter((axle) => when?.(facts, axle) !== false)
      .map((axle) => ({
        question,
        place: axle,
        paths: places === 'axle' ? [`${field}.${axle}`] : WHEELS[axle].map((wheel) => `${field}.${wheel}`),
      }));
  });
}

/** What one answer can say of all places at once, before it is asked for each. */
export function togetherIn({ questions }: Section): Asked[] {
  return questions
    .filter(({ places }) => places === 'bushing')
    .map((question) => ({
      question,
      place: 'everywhere',
      paths: BUSHINGS.map((place) => `${question.field}.${place}`),
    }));
}

/** How many of a section are answered, of how many. */
export function countIn(section: Section, facts: Facts): { given: number; asked: number } {
  const asked = askedIn(section, facts);
  return {
    given: asked.filter(({ paths }) => paths.every((path) => facts[path] !== undefined)).length,
    asked: asked.length,
  };
}
