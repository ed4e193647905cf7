/**
 * What a driver feels and where to look first. Item keys and symptoms are those of the catalogue (a test compares
 * them). All of it is common practice, no source.
 */
export interface SymptomPoint {
  /** catalogue item */
  item: string;
  /** positions of the item to begin with; left out: all that apply to the car */
  positions?: readonly string[];
  why: string;
}

export interface Symptom {
  /** `stop`: do not start or drive before it is found; `look`: before the next session; `note`: when there is time */
  urgency: 'stop' | 'look' | 'note';
  /** in the order to look */
  points: readonly SymptomPoint[];
}

const at = (item: string, why: string, positions?: readonly string[]): SymptomPoint =>
  positions ? { item, positions, why } : { item, why };

const FRONT = ['FL', 'FR'];
const REAR = ['RL', 'RR'];
const zones = (wheels: readonly string[]) => wheels.flatMap((w) => [`${w}.inner`, `${w}.middle`, `${w}.outer`]);
const pads = (wheels: readonly string[]) => wheels.flatMap((w) => [`${w}.in`, `${w}.out`]);

const BRAKING = {
  'pulls-under-braking': {
    urgency: 'stop',
    points: [
      at('caliper.guides', 'a guide that sticks lets one side brake less', FRONT),
      at('caliper.seals', 'a seized or leaking piston brakes one side only', FRONT),
      at('pad.thickness', 'pads worn unevenly show which caliper drags or sticks', pads(FRONT)),
      at('bushing.condition', 'a soft front arm bushing lets the wheel steer itself under load', [
        'front-lower-arm',
        'front-upper-arm',
      ]),
      at('brake.lines', 'a swollen hose delays one side'),
      at('tyre.cold-pressure', 'unequal pressures pull', FRONT),
      at('setup.alignment', 'unequal caster or toe pulls', FRONT),
    ],
  },
  'long-pedal-after-laps': {
    urgency: 'stop',
    points: [
      at('brake.pedal', 'press it cold first: long when cold is air or a leak, long when hot is boiling fluid'),
      at('brake-fluid.flushed-on', 'old fluid has taken up water and boils'),
      at('brake-fluid.wet-boiling-point', 'the fluid may be the wrong one for this duty'),
      at('brake-fluid.level', 'a low level is worn pads or a leak'),
      at('pad.thickness', 'thin pads let the heat through to the fluid'),
      at('wheel-play.twelve-six', 'bearing play knocks the pads back from the rotor'),
      at('caliper.seals', 'a piston that leaks or retracts too far'),
      at('brake.lines', 'a hose that swells when hot'),
    ],
  },
  'weak-brakes-when-cold': {
    urgency: 'stop',
    points: [
      at('pad.temperature-range', 'pads made for the track only work hot'),
      at('brake.pedal', 'hard and high with little effect: pads or servo'),
      at('pad.thickness', 'look whether the pads are glazed or oily', pads(FRONT)),
      at('caliper.seals', 'fluid on a pad takes its grip'),
    ],
  },
  'vibration-under-braking': {
    urgency: 'look',
    points: [
      at('rotor.cracks', 'cracks and uneven deposits are felt in the pedal'),
      at('rotor.thickness', 'a rotor of uneven thickness pulses'),
      at('wheel-play.twelve-six', 'bearing play shakes under load', FRONT),
      at('wheel-play.nine-three', 'a worn tie rod end shakes the steering wheel', FRONT),
      at('wheel.torque', 'uneven fasteners bend the rotor on the hub'),
      at('bushing.condition', 'a split bushing lets the arm shake', ['front-lower-arm', 'front-upper-arm']),
    ],
  },
} as const satisfies Readonly<Record<string, Symptom>>;

const HANDLING = {
  'steps-out-under-power': {
    urgency: 'look',
    points: [
      at('wheel-play.nine-three', 'play in the rear toe links lets a rear wheel steer the car under power', REAR),
      at('wheel-play.twelve-six', 'play both ways at a rear wheel is its bearing', REAR),
      at('suspension.fasteners', 'a toe link that has come loose'),
      at('tyre.tread', 'worn rear tyres', zones(REAR)),
      at('tyre.date-code', 'old rubber is hard', REAR),
      at('tyre.cold-pressure', 'rear pressure too high or unequal', REAR),
      at('setup.alignment', 'toe-out at the rear steers the car', REAR),
      at('bushing.condition', 'rear bushings let the toe change under power', [
        'rear-lower-arm',
        'rear-upper-arm',
        'differential-mount',
        'subframe',
      ]),
      at('damper.leak', 'a dead rear damper lets the tyre hop', REAR),
      at('engine.leaks', 'oil that reaches a rear tyre'),
    ],
  },
  'pushes-wide': {
    urgency: 'note',
    points: [
      at('tyre.tread', 'worn front shoulders', zones(FRONT)),
      at('tyre.cold-pressure', 'front pressure too high or too low', FRONT),
      at('setup.alignment', 'too little front camber, or too much toe', FRONT),
      at('damper.leak', 'a dead front damper', FRONT),
      at('setup.ride-height', 'the front stands too high', FRONT),
    ],
  },
  wanders: {
    urgency: 'look',
    points: [
      at('wheel-play.nine-three', 'play in the tie rods', FRONT),
      at('wheel-play.nine-three', 'play in the rear toe links', REAR),
      at('steering.free-play', 'play in rack, box or column'),
      at('wheel-play.twelve-six', 'play in bearings or ball joints'),
      at('setup.alignment', 'toe-out, or too little caster'),
      at('tyre.cold-pressure', 'low or unequal pressures'),
      at('bushing.condition', 'worn bushings let a wheel steer itself'),
    ],
  },
  'knock-over-kerbs': {
    urgency: 'look',
    points: [
      at('damper.mount-play', 'the most usual knock is a damper mount'),
      at('bushing.condition', 'anti-roll bar links and their bushings', ['front-anti-roll-bar', 'rear-anti-roll-bar']),
      at('wheel-play.twelve-six', 'a worn ball joint'),
      at('suspension.fasteners', 'a bolt that has come loose'),
      at('spring.condition', 'a broken spring end, or one that is not seated'),
      at('bushing.play', 'a worn spherical bearing'),
      at('damper.leak', 'a damper that bottoms'),
    ],
  },
  'noise-in-corners': {
    urgency: 'look',
    points: [
      at('wheel-play.twelve-six', 'a bearing that hums changes its note with load'),
      at('driveline.boots-and-joints', 'a shaft joint clicks under lock or load'),
      at('tyre.cuts-or-bulges', 'a tyre that touches body or suspension leaves marks'),
      at('wheel.torque', 'a loose wheel clicks'),
      at('body.panels-secure', 'a liner or panel that rubs'),
    ],
  },
  vibration: {
    urgency: 'look',
    points: [
      at('wheel.torque', 'a wheel that is coming loose vibrates first: rule it out before all else'),
      at('wheel.weights-present', 'a lost balance weight'),
      at('wheel.rubber-buildup', 'rubber thrown into the wheel unbalances it'),
      at('wheel.bent', 'a rim bent on a kerb'),
      at('tyre.cuts-or-bulges', 'a flat spot, or a carcass that comes apart'),
      at('driveline.boots-and-joints', 'a worn shaft joint'),
      at('driveline.bolts', 'a loose shaft flange'),
      at('wheel-play.twelve-six', 'a worn bearing'),
    ],
  },
} as const satisfies Readonly<Record<string, Symptom>>;

const ENGINE = {
  'temperature-rising': {
    urgency: 'stop',
    points: [
      at('coolant.level', 'read it cold; never open a hot system'),
      at('radiator.debris', 'rubber and grass between the fins'),
      at('coolant.hoses', 'a soft, swollen or weeping hose'),
      at('coolant.cap-pressure', 'a cap that no longer holds its pressure'),
      at('engine.leaks', 'coolant that goes somewhere', ['coolant']),
      at('coolant.changed-on', 'old coolant, deposits in the radiator'),
      at('oil.level.reading', 'too little oil runs hot'),
    ],
  },
  'oil-pressure-drops-in-corners': {
    urgency: 'stop',
    points: [
      at('oil.level.reading', 'too little oil leaves the pick-up in corners; read it hot'),
      at('engine.leaks', 'oil that goes somewhere', ['engine-oil']),
      at('oil.grade', 'oil that is too thin when hot'),
      at('oil.changed-on', 'oil thinned by fuel and heat'),
      at('engine.catch-tank', 'oil thrown out through the breather'),
    ],
  },
  'smell-of-fuel': {
    urgency: 'stop',
    points: [
      at('fuel.cap-and-lines', 'cap, hoses, filler neck and tank breather; do not start the car before it is found'),
      at('engine.leaks', 'fuel at the rail and pump', ['fuel']),
      at('fuel-cell.made-on', 'an old bladder sweats'),
    ],
  },
  'smell-of-burning': {
    urgency: 'stop',
    points: [
      at('engine.leaks', 'oil or fluid on the exhaust'),
      at('engine.loose-items', 'a rag or a loose wire on something hot'),
      at('caliper.boots', 'a brake that drags burns its boots'),
      at('caliper.guides', 'a guide that sticks keeps the pad on'),
      at('driveline.boots-and-joints', 'a split boot throws grease on hot parts'),
      at('exhaust.secure', 'exhaust that touches or leaks'),
      at('battery.positive-covered', 'a cable that chafes'),
    ],
  },
  'hard-to-change-gear': {
    urgency: 'note',
    points: [
      at('clutch-fluid.level', 'a clutch that does not free: level first, then a leak'),
      at('clutch-fluid.class', 'clutch fluid that boils near the exhaust'),
      at('gearbox-fluid.level', 'too little gearbox fluid'),
      at('gearbox-fluid.changed-on', 'old gearbox fluid'),
      at('bushing.condition', 'mounts that let engine and gearbox move', ['subframe', 'differential-mount']),
      at('driveline.bolts', 'loose mounts'),
    ],
  },
} as const satisfies Readonly<Record<string, Symptom>>;

/** Every symptom of the catalogue's `debrief.symptoms`, with the points to look at first. */
export const SYMPTOMS: Readonly<Record<string, Symptom>> = { ...BRAKING, ...HANDLING, ...ENGINE };
